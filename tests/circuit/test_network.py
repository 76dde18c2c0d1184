import numpy as np
import pytest

from fieldsim.circuit.equations import circuit_equations, many_equations
from fieldsim.circuit.network import Circuit, CoilSet, Outlet, one_coil_circuit
from fieldsim.errors import ImpossibleError
from fieldsim.machine.connections import CoilRef, InSeries
from fieldsim.machine.load.circuit_parts import Bridge, Capacitor, Open, Parallel, Resistor, Series
from fieldsim.machine.load.led_colours import generic_led

PAIR = CoilSet.from_arrays(["a", "b"], [1.0, 2.0], [[1.0, 0.5], [0.5, 1.0]])


@pytest.mark.parametrize(
    ("ohm", "henry", "message"),
    [
        ([0.0, 1.0], None, "0 ohm"),
        ([-1.0, 1.0], None, "must be above zero"),
        ([1.0, float("nan")], None, "above zero"),
        ([1.0, 1.0], [[1.0, 0.5], [0.4, 1.0]], "not symmetric"),
        ([1.0, 1.0], [[1.0, 2.0], [2.0, 1.0]], "mutual inductance exceeds"),
    ],
)
def test_impossible_coils(ohm, henry, message):
    with pytest.raises(ImpossibleError, match=message):
        CoilSet.from_arrays(["a", "b"], ohm, henry)


def test_wrong_shapes_are_programming_errors():
    with pytest.raises(ValueError, match="2 coils need"):
        CoilSet.from_arrays(["a", "b"], [1.0])


def test_outlets_must_name_coils_once():
    with pytest.raises(ImpossibleError, match='no coil is called "c"; there are: a, b'):
        Circuit(PAIR, (Outlet("x", CoilRef("c"), Open()),))
    both = InSeries((CoilRef("a"), CoilRef("a", reverse=True)))
    with pytest.raises(ImpossibleError, match='"a" is connected twice'):
        Circuit(PAIR, (Outlet("x", both, Open()),))
    with pytest.raises(ImpossibleError, match="same name"):
        Circuit(PAIR, (Outlet("x", CoilRef("a"), Open()), Outlet("x", CoilRef("b"), Open())))


def test_coils_that_nobody_names_stand_open():
    circuit = Circuit(PAIR, (Outlet("x", CoilRef("b"), Resistor(1.0)),))
    assert [o.name for o in circuit.complete_outlets()] == ["x", "a"]


def test_other_loads_and_coils():
    circuit = one_coil_circuit(5.0, Resistor(1.0))
    assert circuit.with_load("coil", Resistor(2.0)).outlets[0].load == Resistor(2.0)
    assert circuit.opened().outlets[0].load == Open()
    with pytest.raises(KeyError):
        circuit.with_load("nobody", Open())
    coils = CoilSet.from_arrays(["coil"], [7.0])
    assert circuit.with_coils(coils).coils.resistance_ohm == (7.0,)


def test_labels_are_unique_and_carry_the_outlet_where_there_are_several():
    load = Bridge(Parallel((Series((Resistor(1.0), Resistor(2.0))), generic_led("red"))))
    labels = [b.label for b in circuit_equations(one_coil_circuit(1.0, load)).branches]
    assert labels == [
        "bridge diode",
        "bridge diode 2",
        "bridge diode 3",
        "bridge diode 4",
        "resistor",
        "resistor 2",
        "red LED",
    ]
    circuit = Circuit(
        PAIR, (Outlet("x", CoilRef("a"), Resistor(1.0)), Outlet("y", CoilRef("b"), Resistor(1.0)))
    )
    labels = [b.label for b in circuit_equations(circuit).branches]
    assert labels == ["x: resistor", "y: resistor"]


def test_linear_matrix_is_passive():
    # what the circuit dissipates, x . K x, is never negative, whatever the unknowns
    load = Series((Resistor(3.0), Parallel((Capacitor(1e-3, 0.1), Resistor(1e6), Capacitor(1e-6)))))
    equations = circuit_equations(one_coil_circuit(5.0, load, 0.1))
    K = equations.linear.copy()
    # rows that state voltages have the sign of the element equation; turn them to v - R i = 0
    for kind, count in (("wire", 1), ("charging", 2)):
        K[equations.columns(kind, count)] *= -1
    assert np.linalg.eigvalsh(0.5 * (K + K.T)).min() > -1e-9


def test_inductance_too_small_for_any_wire_counts_as_none():
    assert CoilSet.from_arrays(["a"], [1.0], [[1e-300]]).inductance_H == ((0.0,),)
    assert CoilSet.from_arrays(["a"], [1.0], [[1e-9]]).inductance_H == ((1e-9,),)


def test_circuits_that_differ_in_their_coils_share_all_else():
    def circuit(ohm, load):
        coils = CoilSet.from_arrays(["a", "b"], [ohm, 2 * ohm], [[ohm, 0.5], [0.5, ohm]])
        # joined the other way round than they are listed
        source = InSeries((CoilRef("b"), CoilRef("a", reverse=True)))
        return Circuit(coils, (Outlet("both", source, load),))

    loads = Bridge(Capacitor(1e-4)), Resistor(80.0)
    circuits = [circuit(ohm, loads[i % 2]) for i, ohm in enumerate((1.0, 2.0, 3.0, 4.0))]
    together = many_equations(circuits)
    assert together[0].branches is together[2].branches
    assert together[1].branches is together[3].branches
    for each, found in zip(circuits, together, strict=True):
        alone = circuit_equations(each)
        assert np.array_equal(found.mass, alone.mass)
        assert np.array_equal(found.linear, alone.linear)
        rows = found.emf_rows
        assert np.diag(found.linear)[rows].tolist() == list(each.coils.resistance_ohm)
        assert found.mass[np.ix_(rows, rows)].tolist() == [list(x) for x in each.coils.inductance_H]
