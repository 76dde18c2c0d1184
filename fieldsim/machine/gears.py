"""Gear trains from the crank to the rotors: exact ratios, signs, and losses in the meshes.

Every wheel hangs on one other: fixed to the same axle (``on``), or meshing with it
(``driven_by``). A mesh multiplies the speed by driver teeth over driven teeth. Two wheels beside
each other turn in opposite senses; ``sense: same`` is for a wheel inside a ring of teeth, for a
toothed belt, and for the second of two wheels on either side of a crown wheel when both senses
are seen along one shaft line.

A sense is that about a rotor's own ``along``, with the crank's taken to point the same way: where
two rotors' ``along`` are opposed, one of them is seen from behind, and its sign turns over.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldsim.machine.gear_wheels import (
    CRANK,
    DEFAULT_MESH_EFFICIENCY,
    GearTrainError,
    Wheel,
    check_wheel,
    loop_error,
)

__all__ = [
    "CRANK",
    "DEFAULT_MESH_EFFICIENCY",
    "COMFORTABLE_CRANK_SPEED_rpm",
    "GearTrain",
    "GearTrainError",
    "Link",
    "Wheel",
]

Array = NDArray[np.float64]

COMFORTABLE_CRANK_SPEED_rpm = (60.0, 120.0)
"""What a hand keeps up for minutes on an arm of 5 to 15 cm: common practice, no published source.
Twice as fast is possible for some seconds."""


@dataclass(frozen=True)
class Link:
    """One step of a train.

    Parameters
    ----------
    name
        Of the wheel, or of a rotor on a train given by its ratio only.
    parent
        Name of the link before it, or `CRANK`.
    ratio
        Turns for one turn of the parent; negative turns the other way.
    efficiency
        Of this step.
    meshes
        1 if teeth meet here, else 0.
    rotors
        Names of the rotors fixed to it.
    """

    name: str
    parent: str
    ratio: Fraction
    efficiency: float = 1.0
    meshes: int = 0
    rotors: tuple[str, ...] = ()


@dataclass(frozen=True)
class GearTrain:
    """All that the crank turns, parents before what hangs on them.

    Examples
    --------
    One wheel of 60 teeth turns two pinions of 12, one of them over an idler:

    >>> train = GearTrain.from_wheels([
    ...     Wheel("big", 60, on="crank"),
    ...     Wheel("left", 12, driven_by="big", rotors=("upper",)),
    ...     Wheel("idler", 20, driven_by="big"),
    ...     Wheel("right", 12, driven_by="idler", rotors=("lower",)),
    ... ])
    >>> {name: str(ratio) for name, ratio in train.ratios.items()}
    {'upper': '-5', 'lower': '5'}
    >>> train.meshes
    {'upper': 1, 'lower': 2}
    """

    links: tuple[Link, ...]

    @classmethod
    def from_wheels(cls, wheels: Iterable[Wheel]) -> GearTrain:
        """Return the train of toothed wheels.

        Raises
        ------
        GearTrainError
            If a wheel has no whole number of teeth above zero, hangs on nothing or on two things,
            on an unknown wheel or in a loop, or if two wheels turn one rotor.
        """
        by_name = {wheel.name: wheel for wheel in wheels}
        for wheel in by_name.values():
            check_wheel(wheel, by_name)
        links: list[Link] = []
        placed = {CRANK}
        waiting = list(by_name.values())
        while waiting:
            ready = [w for w in waiting if w.parent in placed]
            if not ready:
                raise loop_error(waiting[0], by_name)
            links.extend(_link(wheel, by_name) for wheel in ready)
            placed.update(wheel.name for wheel in ready)
            waiting = [w for w in waiting if w.name not in placed]
        _check_rotors(links)
        return cls(tuple(links))

    @classmethod
    def from_ratios(cls, ratios: Mapping[str, Fraction]) -> GearTrain:
        """Return a train of which only each rotor's ratio is known: no meshes, no losses.

        Examples
        --------
        >>> GearTrain.from_ratios({"upper": Fraction(9)}).efficiencies
        {'upper': 1.0}
        """
        return cls(tuple(_direct(rotor, ratio) for rotor, ratio in ratios.items()))

    def _along(self) -> dict[str, Link]:
        """Return each link measured from the crank: total ratio, efficiency and meshes."""
        total = {CRANK: Link(CRANK, CRANK, Fraction(1))}
        for link in self.links:
            before = total[link.parent]
            total[link.name] = replace(
                link,
                ratio=before.ratio * link.ratio,
                efficiency=before.efficiency * link.efficiency,
                meshes=before.meshes + link.meshes,
            )
        return total

    def _by_rotor(self) -> dict[str, Link]:
        return {rotor: link for link in self._along().values() for rotor in link.rotors}

    @cached_property
    def ratios(self) -> Mapping[str, Fraction]:
        """Rotor turns per crank turn, by rotor, exact and signed."""
        return {rotor: link.ratio for rotor, link in self._by_rotor().items()}

    @property
    def link_ratios(self) -> dict[str, Fraction]:
        """Turns per crank turn of every link, wheels included, exact and signed."""
        total = self._along()
        return {link.name: total[link.name].ratio for link in self.links}

    @property
    def efficiencies(self) -> dict[str, float]:
        """Product of the efficiencies of the meshes from the crank to each rotor."""
        return {rotor: link.efficiency for rotor, link in self._by_rotor().items()}

    @property
    def meshes(self) -> dict[str, int]:
        """Number of meshes from the crank to each rotor."""
        return {rotor: link.meshes for rotor, link in self._by_rotor().items()}

    def turns_until_repeat(self) -> int:
        """Return after how many crank turns every rotor stands as at the start.

        Examples
        --------
        >>> GearTrain.from_ratios({"a": Fraction(9), "b": Fraction(-10, 3)}).turns_until_repeat()
        3
        """
        return math.lcm(*(ratio.denominator for ratio in self.ratios.values()))

    def completed(self, given: Mapping[str, Fraction | None]) -> GearTrain:
        """Return the train with the rotors that only have a ``gear_ratio`` added.

        Parameters
        ----------
        given
            Each rotor's ``gear_ratio``, or None where the file has none.

        Raises
        ------
        GearTrainError
            If the train turns a rotor that does not exist, contradicts a given ratio, or leaves a
            rotor without any.

        Examples
        --------
        >>> train = GearTrain.from_wheels([
        ...     Wheel("big", 60, on="crank"),
        ...     Wheel("small", 12, driven_by="big", rotors=("upper",)),
        ... ])
        >>> train.completed({"upper": Fraction(5)})
        Traceback (most recent call last):
        ...
        fieldsim.machine.gear_wheels.GearTrainError: rotors.upper.gear_ratio: is 5, but the \
gears make it -5 (1 mesh); leave one of them out
        """
        turned = self._by_rotor()
        for rotor, link in turned.items():
            if rotor not in given:
                known = ", ".join(given)
                raise GearTrainError(
                    ("gears", "wheels", link.name, "rotors"),
                    f'no rotor is called "{rotor}"; there are: {known}',
                )
        direct = []
        for rotor, ratio in given.items():
            if rotor not in turned and ratio is None:
                raise GearTrainError(
                    ("rotors", rotor),
                    f"no wheel turns it; give a wheel `rotors: [{rotor}]`, or it a gear_ratio",
                )
            if rotor in turned and ratio is not None and ratio != turned[rotor].ratio:
                count = turned[rotor].meshes
                raise GearTrainError(
                    ("rotors", rotor, "gear_ratio"),
                    f"is {ratio}, but the gears make it {turned[rotor].ratio} "
                    f"({count} mesh{'' if count == 1 else 'es'}); leave one of them out",
                )
            if rotor not in turned and ratio is not None:
                direct.append(_direct(rotor, ratio))
        return GearTrain((*self.links, *direct))

    def crank_torque_Nm(
        self, needed_Nm: Mapping[str, Array], sense: int = 1
    ) -> tuple[Array, Array]:
        """Return the torque at the crank that gives each rotor what it needs.

        Parameters
        ----------
        needed_Nm
            By rotor, the torque to be applied to its shaft, positive about ``along``; arrays of
            one shape (angles,). Rotors left out need none.
        sense
            ``1`` if the crank turns forward, ``-1`` if back: it decides which way power flows.

        Returns
        -------
        tuple of ndarray
            Crank torque, and the part of it that the meshes eat: loss over crank speed; both
            [N m], shape (angles,).

        Notes
        -----
        Each mesh passes on its efficiency of the net power through it, in whichever direction
        that flows: torque times ratio over efficiency when the crank drives, times efficiency
        when magnets drive the crank. Where one wheel turns several rotors, power that one gives
        and another takes does not load the wheel they share.

        Examples
        --------
        >>> train = GearTrain.from_wheels([
        ...     Wheel("big", 60, on="crank"),
        ...     Wheel("small", 12, driven_by="big", rotors=("upper",), efficiency=0.9),
        ... ])
        >>> torque, lost = train.crank_torque_Nm({"upper": np.array([-0.018, 0.018])})
        >>> torque.round(6).tolist(), lost.round(6).tolist()
        ([0.1, -0.081], [0.01, 0.009])
        """
        unknown = set(needed_Nm) - set(self.ratios)
        if unknown:
            raise ValueError(f"the train turns no rotor called {', '.join(sorted(unknown))}")
        shape = np.broadcast_shapes(*(np.shape(t) for t in needed_Nm.values()))
        total = self._along()
        torque = {name: np.zeros(shape) for name in total}
        lost = np.zeros(shape)
        for link in reversed(self.links):
            for rotor in link.rotors:
                if rotor in needed_Nm:
                    torque[link.name] = torque[link.name] + needed_Nm[rotor]
            wanted = torque[link.name]
            outward = wanted * float(total[link.name].ratio) * sense >= 0
            factor = np.where(outward, 1 / link.efficiency, link.efficiency)
            ratio = float(link.ratio)
            torque[link.parent] = torque[link.parent] + ratio * wanted * factor
            lost += ratio * wanted * (factor - 1) * float(total[link.parent].ratio)
        return torque[CRANK], lost


def _direct(rotor: str, ratio: Fraction) -> Link:
    # No wheel's name has a space, so that no rotor's can be mistaken for one.
    return Link(f"rotor {rotor}", CRANK, Fraction(ratio), rotors=(rotor,))


def _link(wheel: Wheel, by_name: Mapping[str, Wheel]) -> Link:
    if wheel.driven_by is None:
        return Link(wheel.name, wheel.parent, Fraction(1), rotors=wheel.rotors)
    ratio = Fraction(by_name[wheel.driven_by].teeth, wheel.teeth)
    signed = ratio if wheel.same_sense else -ratio
    return Link(wheel.name, wheel.driven_by, signed, wheel.efficiency, 1, wheel.rotors)


def _check_rotors(links: Iterable[Link]) -> None:
    turned_by: dict[str, str] = {}
    for link in links:
        for rotor in link.rotors:
            if rotor in turned_by:
                raise GearTrainError(
                    ("gears", "wheels", link.name, "rotors"),
                    f'rotor "{rotor}" is already turned by wheel "{turned_by[rotor]}"; a rotor '
                    "has one",
                )
            turned_by[rotor] = link.name
