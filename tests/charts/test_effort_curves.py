"""The figure of torque against crank angle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from machines import shipped
from matplotlib.backends.backend_agg import FigureCanvasAgg

from fieldsim.charts.effort_curves import (
    draw_asked_torque,
    draw_given_torque,
    save_effort_plot,
)
from fieldsim.charts.figure_style import new_figure
from fieldsim.machine.mechanics import Crank
from fieldsim.operation.effort import Effort
from fieldsim.operation.operating_point import OperatingPoint


@pytest.fixture(scope="module")
def facing() -> Effort:
    machine = shipped("two_facing_rotors")
    return OperatingPoint(machine, crank_speed_rad_per_s=9.0, tolerance=1e-3).effort


def drawn(effort):
    """Return the axes of what the hand gives, and of what the parts ask for."""
    draw = (draw_given_torque, draw_asked_torque)
    return [each(new_figure().add_subplot(), effort) for each in draw]


def test_curves_are_the_torques(facing):
    braked = replace(facing, coils_at_crank_Nm=0.1 * np.abs(facing.crank.torque_Nm))
    above, below = drawn(braked)
    hand = above.get_lines()[0]
    assert np.allclose(hand.get_ydata()[:-1], 1e3 * facing.crank.torque_Nm)  # below half a N m
    assert above.get_ylabel() == "given by the hand (mN m)"
    assert hand.get_xdata()[-1] == pytest.approx(360 / 9)
    parts = [line.get_ydata()[:-1] for line in below.get_lines()[:3]]
    assert np.allclose(parts[0], 1e3 * braked.coils_at_crank_Nm)
    assert np.allclose(sum(parts), 1e3 * facing.crank.torque_Nm)
    names = [text.get_text() for text in below.get_legend().get_texts()]
    assert names == ["coils", "magnets of the rotors", "friction and gears"]
    assert below.get_xlabel() == above.get_xlabel() == "crank turned (°)"


def test_force_only_with_a_crank_arm(facing):
    assert [len(a.child_axes) for a in drawn(facing)] == [0, 0]
    above, below = drawn(replace(facing, arm=Crank(0.1)))
    (force,) = above.child_axes
    assert force.get_ylabel() == "force on the arm (N)"
    FigureCanvasAgg(above.figure).draw()  # the second axis takes its range from the first here
    low, high = above.get_ylim()
    assert force.get_ylim() == pytest.approx((low * 1e-3 / 0.1, high * 1e-3 / 0.1))
    assert below.child_axes == []


def test_same_figure_same_bytes(facing, tmp_path):
    save_effort_plot(facing, tmp_path / "a.svg")
    save_effort_plot(facing, tmp_path / "b.svg")
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_rounding_is_no_torque(facing):
    nothing = 1e-18 * np.ones_like(facing.slow_Nm)
    still = replace(
        facing, crank=replace(facing.crank, torque_Nm=nothing), slow_Nm=nothing,
        coils_at_crank_Nm=0 * nothing, magnets_at_crank_Nm=nothing,
    )  # fmt: skip
    for axes in drawn(still):
        assert [t.get_text() for t in axes.texts] == ["no torque"]
        assert not axes.get_lines()
