"""Optional sections of a geometry file about the hand, friction and the glue.

::

    crank: {arm: 80 mm, hand_force: 60 N}
    friction: {crank: 20 mN*m, each_rotor: 2 mN*m, each_rotor_per_speed: 1e-6 N*m*s/rad}
    adhesive:
      glued_on: -shaft                # side of the magnet that the glue is on
      area: 180 mm^2                  # instead of that whole side
      shear_strength: 3 MPa
      peel_strength: 0.5 MPa
      density: 7500 kg/m^3            # of the magnets
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator

from fieldsim.machine.magnets import North
from fieldsim.machine.mechanics import (
    DEFAULT_HAND_FORCE_N,
    Adhesive,
    CrankArm,
    Friction,
    NDFEB_DENSITY_kg_m3,
)
from fieldsim.machine_file.section import Section, problem, quantity_field

__all__ = ["AdhesiveSection", "CrankSection", "FrictionSection"]

_SIDES = ", ".join(n.value for n in North)


def _side(value: Any) -> Any:
    if not isinstance(value, str) or value not in [n.value for n in North]:
        raise problem(f"is not a side of a magnet; allowed: {_SIDES}")
    return value


class CrankSection(Section):
    """The crank and the hand on it."""

    arm: Annotated[float, quantity_field("length", "5 mm", "1 m")]
    hand_force: Annotated[float, quantity_field("force", "1 N", "1000 N")] = DEFAULT_HAND_FORCE_N

    def crank_arm(self) -> CrankArm:
        """Return the checked values.

        Examples
        --------
        >>> CrankSection.model_validate({"arm": "80 mm"}).crank_arm().length_m
        0.08
        """
        return CrankArm(self.arm, self.hand_force)


class FrictionSection(Section):
    """Friction of the bearings, and drag that grows with speed."""

    crank: Annotated[float, quantity_field("torque", "0 N*m", "100 N*m")] = 0.0
    each_rotor: Annotated[float, quantity_field("torque", "0 N*m", "100 N*m")] = 0.0
    each_rotor_per_speed: Annotated[
        float, quantity_field("friction per speed", "0 N*m*s/rad", "1 N*m*s/rad")
    ] = 0.0

    def friction(self) -> Friction:
        """Return the checked values.

        Examples
        --------
        >>> FrictionSection.model_validate({"crank": "20 mN*m"}).friction().crank_Nm
        0.02
        """
        return Friction(self.crank, self.each_rotor, self.each_rotor_per_speed)


class AdhesiveSection(Section):
    """The glue under each magnet; a strength that the file leaves out is not guessed."""

    glued_on: Annotated[str, BeforeValidator(_side)] | None = None
    area: Annotated[float, quantity_field("area", "0.01 mm^2", "1 m^2")] | None = None
    shear_strength: Annotated[float, quantity_field("stress", "0.001 MPa", "1000 MPa")] | None = (
        None
    )
    peel_strength: Annotated[float, quantity_field("stress", "0.001 MPa", "1000 MPa")] | None = None
    density: Annotated[float, quantity_field("density", "500 kg/m^3", "25000 kg/m^3")] = (
        NDFEB_DENSITY_kg_m3
    )

    def adhesive(self) -> Adhesive:
        """Return the checked values.

        Examples
        --------
        >>> section = AdhesiveSection.model_validate({"shear_strength": "3 MPa"})
        >>> section.adhesive().shear_strength_Pa
        3000000.0
        """
        return Adhesive(
            self.shear_strength,
            self.peel_strength,
            North(self.glued_on) if self.glued_on is not None else None,
            self.area,
            self.density,
        )
