import numpy as np
import pytest

import fieldsim as fs
from fieldsim.machine.clearance.clearances import winding_bars
from fieldsim.machine.clearance.iron_bodies import iron_body
from fieldsim.machine.clearance.magnet_bodies import turning_bodies
from fieldsim.machine.overall_size import overall_size_m

TILTED = {
    "rotors.upper.shaft.along": [1, 2, 3],
    "coils.pickup.axis": [1, -1, 2],
}


def points_of(machine):
    """Return points on the outsides of all bodies, as clearances see them."""
    u = np.stack(np.meshgrid(*[np.linspace(-1, 1, 21)] * 3), -1).reshape(-1, 3)
    for rotor in machine.placed_rotors:
        for magnet in rotor.magnets:
            for body in turning_bodies(rotor, magnet):
                yield body(u)
    for coil in machine.placed_coils:
        for centre, frame, half in winding_bars(coil):
            yield centre + (u * half) @ frame.T
    for piece in machine.placed_iron:
        yield iron_body(piece)(u)


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("lamp_ring", {}),
        ("lamp_ring", TILTED),
        ("lamp_ring", {"magnets.bar.shape": "disc", "magnets.bar.diameter": "12 mm",
                       "magnets.bar.thickness": "5 mm"}),
        ("bolt_beside_magnets", {}),
        ("steel_discs", {}),
        ("bar_inside_coil", {}),
    ],
)  # fmt: skip
def test_the_box_holds_all_bodies_and_no_more(name, changes):
    machine = fs.read(f"geometries/{name}.yaml").changed(changes)
    points = np.concatenate(list(points_of(machine)))
    span = np.ptp(points, axis=0)
    # Points at steps of a circle come within a hundredth of its farthest.
    assert overall_size_m(machine) == pytest.approx(span, rel=1e-2)
    assert (np.array(overall_size_m(machine)) >= span * (1 - 1e-12)).all()
