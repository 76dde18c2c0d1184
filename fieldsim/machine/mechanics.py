"""The described crank, friction and glue, as immutable objects in SI units."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.machine.magnets import North

__all__ = [
    "DEFAULT_HAND_FORCE_N",
    "Adhesive",
    "CrankArm",
    "Friction",
    "NDFEB_DENSITY_kg_m3",
]

DEFAULT_HAND_FORCE_N = 60.0
"""What a hand on a crank gives for some seconds: common practice, no published source. For
minutes, a third of it is plenty."""

NDFEB_DENSITY_kg_m3 = 7500.0
"""Of sintered neodymium magnets, as data sheets give it (7400 to 7600): common practice. Hard
ferrite is about 4900, samarium-cobalt about 8300."""


@dataclass(frozen=True)
class CrankArm:
    """The crank.

    Parameters
    ----------
    length_m
        From its axle to the handle [m].
    hand_force_N
        The most that the hand is asked to give, square to the arm [N].
    """

    length_m: float
    hand_force_N: float = DEFAULT_HAND_FORCE_N


@dataclass(frozen=True)
class Friction:
    """Friction that opposes the motion.

    Parameters
    ----------
    crank_Nm
        Constant torque at the crank's axle [N m].
    each_rotor_Nm
        Constant torque at each rotor's shaft [N m].
    each_rotor_per_speed_Nms
        Torque per speed at each rotor's shaft, for air and grease [N m s/rad].
    """

    crank_Nm: float = 0.0
    each_rotor_Nm: float = 0.0
    each_rotor_per_speed_Nms: float = 0.0

    def rotor_Nm(self, speed_rad_s: float) -> float:
        """Return the size of the torque at a rotor's shaft at a speed [N m].

        Examples
        --------
        >>> Friction(each_rotor_Nm=0.002, each_rotor_per_speed_Nms=1e-5).rotor_Nm(-100.0)
        0.003
        """
        return self.each_rotor_Nm + self.each_rotor_per_speed_Nms * abs(speed_rad_s)


@dataclass(frozen=True)
class Adhesive:
    """The glue that holds each magnet, and the magnets' density.

    Parameters
    ----------
    shear_strength_Pa
        Mean stress along the joint at which it fails [Pa], or None if not known.
    peel_strength_Pa
        Mean stress across the joint at which it opens [Pa], or None if not known. A joint that is
        pulled opens from an edge, at a mean stress far below the shear strength.
    glued_on
        Side of the magnet that the glue is on. None: the side across the shaft, and any pull along
        the shaft is taken to lift the magnet off, which is the worse case.
    area_m2
        Of the joint [m2]; None for the magnet's whole flat side.
    density_kg_m3
        Of the magnets [kg/m3].
    """

    shear_strength_Pa: float | None = None
    peel_strength_Pa: float | None = None
    glued_on: North | None = None
    area_m2: float | None = None
    density_kg_m3: float = NDFEB_DENSITY_kg_m3
