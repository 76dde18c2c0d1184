"""Visitors take turns, the newest question of each counts, and a process that fails is replaced."""

import asyncio

import pytest
from odd_tasks import OddTasks

from fieldsim.errors import FieldsimError
from fieldsim.live.workers import Busy, Superseded, TookTooLong, Workers


def run(scenario, count=1, **limits):
    async def whole():
        workers = Workers(OddTasks, count, **limits)
        await workers.start()
        try:
            return await asyncio.wait_for(scenario(workers), 60)
        finally:
            await workers.stop()

    return asyncio.run(whole())


async def begun(workers, seconds):
    """Keep the process busy with a visitor's question and return its task."""
    task = asyncio.create_task(workers.ask("busy body", ("sleep", (seconds,))))
    await asyncio.sleep(0.3)
    return task


def test_newest_question_of_a_visitor_takes_the_place_of_older_ones():
    async def scenario(workers):
        busy = await begun(workers, 1.0)
        asks = [asyncio.create_task(workers.ask("one", ("note", (i,)))) for i in range(5)]
        results = await asyncio.gather(*asks, return_exceptions=True)
        await busy
        return results

    results = run(scenario)
    assert [type(r) for r in results[:-1]] == [Superseded] * 4
    assert results[-1] == [4]


def test_visitors_take_turns_in_the_order_they_came():
    async def scenario(workers):
        busy = await begun(workers, 0.5)
        names = ("one", "two", "three", "one")
        asks = [asyncio.create_task(workers.ask(name, ("note", (name,)))) for name in names]
        results = await asyncio.gather(*asks, return_exceptions=True)
        await busy
        return results[-2]

    assert run(scenario) == ["one", "two", "three"]


def test_what_takes_too_long_is_ended_and_the_next_is_answered():
    async def scenario(workers):
        with pytest.raises(TookTooLong, match="longer than 0.5 s"):
            await workers.ask("one", ("sleep", (30,)))
        return await workers.ask("one", ("note", ("after",)))

    # The first answer of a process waits for its start, which is not the visitor's doing.
    assert run(scenario, longest_s=0.5) == ["after"]


def test_a_process_that_dies_is_replaced():
    async def scenario(workers):
        first = await workers.ask("one", ("who", ()))
        with pytest.raises(FieldsimError, match="try again"):
            await workers.ask("one", ("die", ()))
        return first, await workers.ask("one", ("who", ()))

    first, second = run(scenario)
    assert first != second


def test_errors_come_back_in_one_line():
    async def scenario(workers):
        with pytest.raises(FieldsimError, match="^no such machine$"):
            await workers.ask("one", ("refuse", ()))

    run(scenario)


def test_too_many_visitors_are_told():
    async def scenario(workers):
        busy = await begun(workers, 0.5)
        asks = [asyncio.create_task(workers.ask(f"v{i}", ("note", (i,)))) for i in range(3)]
        await asyncio.sleep(0)
        with pytest.raises(Busy):
            await workers.ask("late", ("note", ("late",)))
        await asyncio.gather(busy, *asks)

    run(scenario, most_waiting=3)


def test_a_visitor_stays_with_one_process():
    async def scenario(workers):
        return [await workers.ask("one", ("who", ())) for _ in range(4)]

    assert len(set(run(scenario, count=3))) == 1


def test_a_job_that_wants_all_memory_is_refused():
    async def scenario(workers):
        with pytest.raises(FieldsimError, match="too little memory"):
            await workers.ask("one", ("grab", (8 * 2**30,)))
        return await workers.ask("one", ("grab", (1000,)))

    assert run(scenario) == 1000
