"""The described crank, friction and glue."""

from __future__ import annotations

from typing import Annotated, ClassVar

from fieldsim.machine.kinds import Member, Quantity
from fieldsim.machine.magnets import NORTH, North
from fieldsim.machine.part import Part, part, says

__all__ = ["DEFAULT_HAND_FORCE_N", "Adhesive", "Crank", "Friction", "NDFEB_DENSITY_kg_m3"]

DEFAULT_HAND_FORCE_N = 60.0
"""What a hand on a crank gives for some seconds: common practice, no published source. For
minutes, a third of it is plenty."""

NDFEB_DENSITY_kg_m3 = 7500.0
"""Of sintered neodymium magnets, as data sheets give it (7400 to 7600): common practice. Hard
ferrite is about 4900, samarium-cobalt about 8300."""

_TORQUE = Quantity("torque", "0 N*m", "100 N*m")
_STRESS = Quantity("stress", "0.001 MPa", "1000 MPa")
_GLUE_SIDE = Member(
    NORTH.members, f"is not a side of a magnet; allowed: {', '.join(NORTH.members)}"
)


@part
class Crank(Part):
    """The crank and the hand on it; empty where its arm is not known."""

    optional: ClassVar[bool] = True
    needed_if_given: ClassVar[tuple[str, ...]] = ("arm",)

    arm: Annotated[
        float,
        Quantity("length", "5 mm", "1 m"),
        says("from the axle to the handle", "10 mm", "needed"),
    ] = 0.0
    hand_force: Annotated[
        float,
        Quantity("force", "1 N", "1000 N"),
        says("the most that the hand is asked to give", "5 N"),
    ] = DEFAULT_HAND_FORCE_N


@part
class Friction(Part):
    """Friction of the bearings, and drag that grows with speed."""

    optional: ClassVar[bool] = True

    crank: Annotated[float, _TORQUE, says("steady, at the crank's axle", "1 mN*m")] = 0.0
    each_rotor: Annotated[float, _TORQUE, says("steady, at each rotor's shaft", "1 mN*m")] = 0.0
    each_rotor_per_speed: Annotated[
        float,
        Quantity("friction per speed", "0 N*m*s/rad", "1 N*m*s/rad"),
        says("grows with the speed of each rotor: air and grease", "1e-6 N*m*s/rad"),
    ] = 0.0

    def rotor_Nm(self, speed_rad_per_s: float) -> float:
        """Return the size of the torque at a rotor's shaft at a speed [N m].

        Examples
        --------
        >>> Friction(each_rotor=0.002, each_rotor_per_speed=1e-5).rotor_Nm(-100.0)
        0.003
        """
        return self.each_rotor + self.each_rotor_per_speed * abs(speed_rad_per_s)


@part
class Adhesive(Part):
    """The glue under each magnet, and the magnets' density; empty where nothing is known.

    A joint that is pulled opens from an edge, at a mean stress far below the shear strength.
    """

    optional: ClassVar[bool] = True

    glued_on: (
        Annotated[
            North,
            _GLUE_SIDE,
            says(
                "side of the magnet that the glue is on",
                default="the side across the shaft, pulled the worse way",
            ),
        ]
        | None
    ) = None
    area: (
        Annotated[
            float,
            Quantity("area", "0.01 mm^2", "1 m^2"),
            says("of the joint", "10 %", "that whole side"),
        ]
        | None
    ) = None
    shear_strength: (
        Annotated[
            float,
            _STRESS,
            says(
                "mean stress along the joint at which it fails",
                "0.5 MPa",
                "not guessed: `effort` asks for it where the magnets load it",
            ),
        ]
        | None
    ) = None
    peel_strength: (
        Annotated[
            float,
            _STRESS,
            says(
                "mean stress across the joint at which it opens",
                "0.1 MPa",
                "not guessed: `effort` asks for it where the magnets load it",
            ),
        ]
        | None
    ) = None
    density: Annotated[
        float,
        Quantity("density", "500 kg/m^3", "25000 kg/m^3"),
        says("of the magnets (neodymium; ferrite is about 4900)", "100 kg/m^3"),
    ] = NDFEB_DENSITY_kg_m3
