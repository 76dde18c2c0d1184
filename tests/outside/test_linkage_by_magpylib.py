"""Linkage against magpylib: its flux density over the turns' area, its filaments over the magnet.

The machine is handed over through `Geometry.to_magpylib`'s own parts, so their placing is checked
as well; all quadrature here is this file's own.
"""

from __future__ import annotations

import math

import magpylib
import numpy as np
import pytest
from machines import si_coil, si_magnet, si_mounted, si_rotor, si_shaft

from fieldsim.field.linkage.pair_linkage import pair_linkage, sample_series
from fieldsim.field.magpylib_machine import magpylib_magnet, magpylib_rotor
from fieldsim.machine.magnets import ArmAxis, Cuboid, Cylinder, North, Sphere

MM = 1e-3
MU0 = 4e-7 * math.pi

SHAPES = {
    "block": Cuboid((20 * MM, 10 * MM, 5 * MM)),
    "disc": Cylinder(12 * MM, 4 * MM),
    "rod along the arm": Cylinder(8 * MM, 16 * MM, ArmAxis.ARM),
    "rod forward": Cylinder(8 * MM, 14 * MM, ArmAxis.FORWARD),
    "ball": Sphere(10 * MM),
}


def rotor_of(shape, north, *, radius=22.0, height=13.0):
    """Two unlike magnets on a shaft that is askew."""
    magnet = si_magnet("m", shape, 1.2)
    mounted = (
        si_mounted(magnet, radius * MM, 0.4, height * MM, north),
        si_mounted(magnet, 15 * MM, 2.8, (height + 6) * MM, North.IN),
    )
    shaft = si_shaft((1 * MM, -2 * MM, 0.5 * MM), (0.1, -0.05, 1.0))
    return si_rotor("r", shaft, (1.0, 0.3, 0.0), mounted)


def coil_of():
    return si_coil(
        "c",
        (2 * MM, 21 * MM, -1 * MM),
        (0.1, -0.2, 1.0),
        (1.0, 0.2, 0.0),
        (24 * MM, 16 * MM),
        6 * MM,
        4 * MM,
        1500.0,
    )


def gauss(low, high, order):
    x, w = np.polynomial.legendre.leggauss(order)
    return (low + high) / 2 + (high - low) / 2 * x, (high - low) / 2 * w


def surface_linkage(coil, source, *, section=(4, 4), area=24):
    """Turns times the flux through a turn, averaged over the section."""
    u, wu = gauss(0.0, coil.build, section[0])
    w, ww = gauss(-coil.length / 2, coil.length / 2, section[1])
    s, ws = gauss(-1.0, 1.0, area)
    total = 0.0
    for depth, weight in zip(u, wu / coil.build, strict=True):
        a, b = coil.opening[0] / 2 + depth, coil.opening[1] / 2 + depth
        x, y, z = np.meshgrid(a * s, b * s, w, indexing="ij")
        points = np.stack([x, y, z], axis=-1) @ coil.frame.T + coil.centre
        normal = source.getB(points) @ coil.frame[:, 2]
        total += weight * np.einsum("xyz,x,y,z->", normal, a * ws, b * ws, ww / coil.length)
    return coil.turns * total


def reciprocal_linkage(coil, magnets, *, section=(4, 4), order=8):
    """Integral of magnetisation times the coil's field per ampere over the magnets' volumes."""
    u, wu = gauss(0.0, coil.build, section[0])
    w, ww = gauss(-coil.length / 2, coil.length / 2, section[1])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]])
    turns = []
    for depth, rise in np.stack(np.meshgrid(u, w, indexing="ij"), -1).reshape(-1, 2):
        flat = corners * (np.array(coil.opening) / 2 + depth)
        local = np.column_stack([flat, np.full(5, rise)])
        vertices = local @ coil.frame.T + coil.centre
        turns.append(magpylib.current.Polyline(vertices=vertices, current=1.0))
    weights = np.outer(wu / coil.build, ww / coil.length).ravel()
    total = 0.0
    for magnet in magnets:
        local, volume = volume_points(magnet, order)
        points = magnet.orientation.apply(local) + magnet.position
        direction = magnet.orientation.apply(magnet.polarization)
        b = magpylib.getB(turns, points) @ direction  # (turns, points)
        total += weights @ b @ volume
    return coil.turns * total / MU0


def volume_points(magnet, order):
    if isinstance(magnet, magpylib.magnet.Cuboid):
        (x, wx), (y, wy), (z, wz) = (gauss(-d / 2, d / 2, order) for d in magnet.dimension)
        points = np.stack(np.meshgrid(x, y, z, indexing="ij"), -1).reshape(-1, 3)
        return points, np.einsum("i,j,k->ijk", wx, wy, wz).ravel()
    phi = 2 * math.pi / (2 * order) * np.arange(2 * order)
    if isinstance(magnet, magpylib.magnet.Cylinder):
        r, wr = gauss(0.0, magnet.dimension[0] / 2, order)
        z, wz = gauss(-magnet.dimension[1] / 2, magnet.dimension[1] / 2, order)
        rr, pp, zz = (g.ravel() for g in np.meshgrid(r, phi, z, indexing="ij"))
        weights = np.einsum("i,j,k->ijk", r * wr, np.full(len(phi), math.pi / order), wz)
        return np.stack([rr * np.cos(pp), rr * np.sin(pp), zz], -1), weights.ravel()
    r, wr = gauss(0.0, magnet.diameter / 2, order)
    cosine, wc = gauss(-1.0, 1.0, order)
    rr, pp, cc = (g.ravel() for g in np.meshgrid(r, phi, cosine, indexing="ij"))
    weights = np.einsum("i,j,k->ijk", r * r * wr, np.full(len(phi), math.pi / order), wc)
    sine = np.sqrt(1 - cc * cc)
    return np.stack([rr * sine * np.cos(pp), rr * sine * np.sin(pp), rr * cc], -1), weights.ravel()


CASES = [
    ("block", North.PLUS_SHAFT),
    ("block", North.OUT),
    ("block", North.FORWARD),
    ("disc", North.PLUS_SHAFT),
    ("disc", North.OUT),
    ("rod along the arm", North.OUT),
    ("rod forward", North.MINUS_SHAFT),
    ("ball", North.BACK),
]


@pytest.mark.parametrize(("shape", "north"), CASES, ids=[f"{s} {n.value}" for s, n in CASES])
def test_flux_density_over_the_turns_and_reciprocity(shape, north):
    rotor, coil = rotor_of(SHAPES[shape], north), coil_of()
    curve = sample_series(pair_linkage(coil, rotor, 1e-7).harmonics_Wb, 360)
    for degrees in (67, 251):
        through_turns = surface_linkage(coil, magpylib_rotor(rotor, math.radians(degrees)))
        magnets = [magpylib_magnet(rotor, m, math.radians(degrees)) for m in rotor.magnets]
        over_magnets = reciprocal_linkage(coil, magnets)
        # 1e-7 was asked for; this file's own two routes agree to some 1e-8 at these gaps.
        assert curve[degrees] == pytest.approx(through_turns, abs=1.5e-7 * np.ptp(curve))
        assert curve[degrees] == pytest.approx(over_magnets, abs=1.5e-7 * np.ptp(curve))


def test_magnet_inside_the_coil():
    """Turns that surround the magnet: the surface would cut it, reciprocity does not."""
    magnet = si_magnet("m", Cuboid((25 * MM, 10 * MM, 10 * MM)), 1.2)
    mounted = si_mounted(magnet, 0.0, 0.0, 0.0, North.OUT)
    rotor = si_rotor("r", si_shaft((0, 0, 0), (1, 0, 0)), (0, 0, 1), (mounted,))
    coil = si_coil("c", (0, 0, 0), (0, 0, 1), (1, 0, 0), (60 * MM, 34 * MM), 16 * MM, 5 * MM, 900)
    curve = sample_series(pair_linkage(coil, rotor, 1e-6).harmonics_Wb, 360)
    for degrees in (0, 133):
        magnets = [magpylib_magnet(rotor, mounted, math.radians(degrees))]
        theirs = reciprocal_linkage(coil, magnets, section=(5, 6), order=10)
        # 1e-6 was asked for; this file's own points leave 1e-7 of it (16 nodes for 10: 8e-8 less).
        assert curve[degrees] == pytest.approx(theirs, abs=1.1e-6 * np.ptp(curve))


def test_torque_per_ampere_is_the_derivative():
    """With one ampere in the coil, the torque on the rotor is d(linkage)/d(angle).

    magpylib's ``getFT`` on the magnets, cut into cells; the torque is about the shaft.
    """
    rotor, coil = rotor_of(SHAPES["block"], North.PLUS_SHAFT), coil_of()
    harmonics = pair_linkage(coil, rotor, 1e-6).harmonics_Wb
    slope = sample_series(1j * np.arange(len(harmonics)) * harmonics, 360)
    u, wu = gauss(0.0, coil.build, 3)
    w, ww = gauss(-coil.length / 2, coil.length / 2, 3)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]])
    turns = []
    for i, j in np.ndindex(3, 3):
        flat = corners * (np.array(coil.opening) / 2 + u[i])
        vertices = np.column_stack([flat, np.full(5, w[j])]) @ coil.frame.T + coil.centre
        current = coil.turns * wu[i] / coil.build * ww[j] / coil.length
        turns.append(magpylib.current.Polyline(vertices=vertices, current=current))
    for degrees in (67, 251):
        total = 0.0
        for mounted in rotor.magnets:
            magnet = magpylib_magnet(rotor, mounted, math.radians(degrees))
            _, torque = magpylib.getFT(turns, magnet, pivot=rotor.shaft.through, meshing=(16, 8, 4))
            total += float(np.sum(torque, axis=0) @ np.array(rotor.shaft.along))
        # Cells of 1.25 mm at 6 mm leave (1.25/6)^2 / 24 of the field's variation: some 1e-4.
        assert slope[degrees] == pytest.approx(total, abs=3e-4 * np.abs(slope).max())
