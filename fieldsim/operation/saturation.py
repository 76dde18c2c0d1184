"""Iron that carries more flux than its material takes as easily as in weak fields."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.field.iron.magnetised_iron import MagnetisedIron, magnetised_iron
from fieldsim.field.iron.saturating_law import left_share
from fieldsim.field.iron.section_flux import section_flux
from fieldsim.machine.machine import Machine
from fieldsim.machine.materials import Material, material
from fieldsim.machine.part import replaced
from fieldsim.operation.machine_at_speed import MachineAtSpeed
from fieldsim.waveform.flux_table import flux_table

__all__ = ["KNEE", "carried_T", "flux_densities_T", "saturation_cautions"]

Array = NDArray[np.float64]

KNEE = 0.75
"""Share of the saturation from which on iron takes up flux less easily (common practice, no
published source)."""

_ANGLES = 720  # of a crank turn
_MOST_TURNS = 12
_ROUNDS = 12
_SAME = 0.02  # of the permeability: what is left of it is known no better
_TOLERANCE = 1e-3


def flux_densities_T(machine: Machine) -> dict[str, float]:
    """Return the greatest average flux density over any section of each piece of iron [T].

    Parameters
    ----------
    machine
        Any. Without iron, or magnets, nothing is returned.

    Notes
    -----
    Over twelve turns of the crank, by linear theory; the field of the coils' currents, some
    hundredths of the magnets', is left out.

    Examples
    --------
    >>> from fieldsim.machine_file.reader import read
    >>> found = flux_densities_T(read("geometries/bolt_beside_magnets.yaml"))
    >>> {name: round(value, 1) for name, value in found.items()}
    {'core of pickup': 0.7}
    """
    return carried_T(machine, magnetised_iron(machine.placed_iron, machine.placed_rotors))


def carried_T(machine: Machine, iron: MagnetisedIron | None) -> dict[str, float]:
    """Return what `flux_densities_T` does, of iron whose charge is known; empty for None."""
    if iron is None:
        return {}
    base = np.linspace(0.0, math.tau * _MOST_TURNS, _ANGLES * _MOST_TURNS, endpoint=False)
    angles = np.stack(
        [rotor.start + float(rotor.gear_ratio) * base for rotor in machine.placed_rotors]
    )
    return section_flux(iron).greatest_T(angles)


def saturation_cautions(point: MachineAtSpeed) -> tuple[Caution, ...]:
    """Return a caution for each piece of iron that is past its knee.

    Parameters
    ----------
    point
        The machine at its speed.

    Notes
    -----
    How much too high the voltage may be is found with as much permeability as the piece has left
    where and when it carries most, all over and all the time; so it is a bound, by the law of
    `fieldsim.field.iron.saturating_law`. `fieldsim.operation.saturated_emf` solves it by the same.
    """
    machine = point.machine
    carried = point.carried_T
    past = {
        piece.name: piece.material
        for piece in machine.placed_iron
        if carried.get(piece.name, 0.0) > KNEE * _saturation_T(piece.material)
    }
    if not past:
        return ()
    left = _left(machine, past, carried)
    swing, less = (_swing(each, point) for each in (machine, _with_materials(machine, left)))
    too_high = max((1.0 - less[name] / now for name, now in swing.items() if now > 0), default=0.0)
    return tuple(
        Caution(
            Hazard.SATURATED_IRON, name, carried[name], KNEE * _saturation_T(of),
            {
                "saturation_T": _saturation_T(of),
                "permeability": of.permeability,
                "left_permeability": left[name].permeability,
                "too_high": max(too_high, 0.0),
            },
        )
        for name, of in past.items()
    )  # fmt: skip


def _saturation_T(of: Material) -> float:
    return math.inf if of.saturation is None else of.saturation


def _left(
    machine: Machine, past: Mapping[str, Material], carried: Mapping[str, float]
) -> dict[str, Material]:
    """Return what is left of some pieces' permeability where they carry most."""
    left = dict(past)
    low = dict.fromkeys(past, 1.0)
    high = {name: of.permeability for name, of in past.items()}
    for _ in range(_ROUNDS):
        before = left
        left = {}
        for name, of in past.items():
            now = before[name].permeability
            wanted = 1.0 + of.susceptibility * float(left_share(carried[name], _saturation_T(of)))
            # the more permeable it is the more it carries, and the less it has left
            (low if wanted > now else high)[name] = now
            # half way, in logarithms: what carries less has more left
            found = math.sqrt(max(wanted, 1.0) * now)
            if not low[name] < found < high[name]:
                found = math.sqrt(low[name] * high[name])
            left[name] = replaced(of, permeability=max(found, 1.0 + 1e-6))
        if all(
            abs(left[name].permeability / before[name].permeability - 1.0) < _SAME for name in past
        ):
            break
        carried = flux_densities_T(_with_materials(machine, left))
    return left


def _with_materials(machine: Machine, of: Mapping[str, Material]) -> Machine:
    """Return the machine with some pieces of iron of other material, by their placed names."""
    cores = {
        piece.coil: of[piece.name]
        for piece in machine.placed_iron
        if piece.coil and piece.name in of
    }
    coils = tuple(
        replaced(coil, core=replaced(coil.core, material=cores[coil.name]))
        if coil.name in cores
        else coil
        for coil in machine.coils
    )
    iron = tuple(
        replaced(piece, material=of.get(piece.name, material(piece.material)))
        for piece in machine.iron
    )
    return replaced(machine, coils=coils, iron=iron)


def _swing(machine: Machine, point: MachineAtSpeed) -> dict[str, float]:
    """Return the swing of each coil's linkage with all rotors together, where they add up [Wb]."""
    table = (
        point.flux_table
        if machine is point.machine
        else flux_table(machine, tolerance=max(point.tolerance, _TOLERANCE))
    )
    together = np.ptp(table.linkage_Wb, axis=2).sum(axis=1)
    return {coil.name: float(each) for coil, each in zip(machine.coils, together, strict=True)}
