import os
from concurrent.futures import Future, ThreadPoolExecutor

import pytest

from fieldsim.errors import ImpossibleError
from fieldsim.operation.pieces import in_order
from fieldsim.report.beside import workers


class Losing(ThreadPoolExecutor):
    """Loses the first tries at a piece of work, and counts all of them."""

    def __init__(self, losses):
        super().__init__(1)
        self.losses, self.tries = losses, 0

    def submit(self, work, /, *args):
        self.tries += 1
        if self.tries <= self.losses:
            lost = Future()
            lost.set_exception(ConnectionError("gone"))
            return lost
        return super().submit(work, *args)


class Ended(ThreadPoolExecutor):
    """Takes no work."""

    def submit(self, work, /, *args):
        raise RuntimeError("cannot schedule new futures after shutdown")


def die_elsewhere(parent):
    if os.getpid() != parent:
        os._exit(1)
    return "done here"


def refuse(number):
    raise ImpossibleError(f"{number} cannot be")


def test_results_come_in_order_whoever_is_first():
    order = list(range(200))
    with ThreadPoolExecutor(4) as executor:
        assert list(in_order(abs, [-n for n in order], executor)) == order
    assert list(in_order(abs, [-n for n in order])) == order


@pytest.mark.parametrize(("losses", "tries"), [(0, 1), (1, 2), (2, 3), (5, 3)])
def test_what_is_lost_is_done_again(losses, tries):
    with Losing(losses) as executor:
        assert list(in_order(abs, [-7], executor)) == [7]
        assert executor.tries == tries


def test_who_takes_no_work_leaves_it_here():
    with Ended(1) as executor:
        assert list(in_order(abs, [-1, -2], executor)) == [1, 2]


def test_a_process_that_dies_costs_no_result():
    with workers(1) as pool:
        done = list(in_order(die_elsewhere, [os.getpid()] * 3, pool))
    assert done == ["done here"] * 3


def test_wrong_input_is_an_error_at_once():
    with ThreadPoolExecutor(1) as executor, pytest.raises(ImpossibleError, match="1 cannot be"):
        list(in_order(refuse, [1, 2], executor))
    with pytest.raises(ZeroDivisionError):  # what is wrong with the work is not hidden
        list(in_order((1).__truediv__, [0]))


def test_stopping_calls_off_what_is_not_begun():
    begun = []
    with ThreadPoolExecutor(1) as executor:
        found = in_order(begun.append, list(range(50)), executor)
        next(found)
        found.close()
    assert len(begun) < 50
