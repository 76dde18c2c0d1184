"""Resistance of copper wire with temperature, current limit, and how warm a winding gets."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.cautions import Caution, Hazard
from fieldsim.errors import ImpossibleError
from fieldsim.wire.round_wire import copper_area_m2

__all__ = [
    "ALPHA_20C_PER_K",
    "CURRENT_DENSITY_A_M2",
    "REFERENCE_TEMPERATURE_K",
    "RESISTIVITY_20C_OHM_M",
    "SURFACE_FILM_W_M2K",
    "copper_temperature_K",
    "heating_caution",
    "recommended_current_A",
    "resistance_ohm_m",
    "resistivity_ohm_m",
    "temperature_rise_K",
    "warming_per_W",
    "wire_resistance_ohm",
]

REFERENCE_TEMPERATURE_K = 293.15
RESISTIVITY_20C_OHM_M = 1 / 58e6  # standard annealed copper, 100 % IACS: IEC 60028
ALPHA_20C_PER_K = 0.00393  # at constant mass, referred to 20 °C: IEC 60028
CURRENT_DENSITY_A_M2 = 3e6  # common practice for small closed coils, no published source
SURFACE_FILM_W_M2K = 10.0  # free air, convection and radiation: common practice
HOT_TO_TOUCH_K = 333.15  # metal at 60 °C burns within seconds: common practice
ENAMEL_K = 378.15  # 105 °C, the lowest common class of enamel

_COLDEST_K, _HOTTEST_K = 173.15, 523.15
_ZERO_CELSIUS_K = 273.15


def resistivity_ohm_m(temperature_K: ArrayLike = REFERENCE_TEMPERATURE_K) -> NDArray[np.float64]:
    """Return the resistivity of annealed copper.

    Parameters
    ----------
    temperature_K
        Of the copper [K], any shape, from -100 to 250 °C.

    Returns
    -------
    ndarray
        Resistivity [ohm m], the shape of ``temperature_K``.

    Raises
    ------
    ImpossibleError
        If a temperature is outside that range, where the straight line no longer holds.

    Notes
    -----
    rho = rho20 (1 + alpha20 (T - 20 °C)) with rho20 = 1/58 ohm mm2/m and alpha20 = 0.00393 /K
    (IEC 60028). The rule by inferred zero, (234.5 + T)/254.5, differs by 4e-5 at 75 °C. Thermal
    expansion of the wire (1.7e-5 /K) is neglected.

    Examples
    --------
    >>> round(float(resistivity_ohm_m(348.15) / resistivity_ohm_m()), 5)
    1.21615
    """
    temperature = np.asarray(temperature_K, dtype=float)
    outside = ~((temperature >= _COLDEST_K) & (temperature <= _HOTTEST_K))
    if np.any(outside):
        given = float(np.extract(outside, temperature)[0]) - _ZERO_CELSIUS_K
        raise ImpossibleError(
            f"copper at {given:.4g} °C; allowed: {_COLDEST_K - _ZERO_CELSIUS_K:.0f} to "
            f"{_HOTTEST_K - _ZERO_CELSIUS_K:.0f} °C"
        )
    rise = temperature - REFERENCE_TEMPERATURE_K
    return np.asarray(RESISTIVITY_20C_OHM_M * (1 + ALPHA_20C_PER_K * rise), dtype=float)


def resistance_ohm_m(
    bare_diameter_m: ArrayLike, temperature_K: ArrayLike = REFERENCE_TEMPERATURE_K
) -> NDArray[np.float64]:
    """Return the resistance per metre of wire for direct current.

    Parameters
    ----------
    bare_diameter_m
        Of the copper [m], any shape.
    temperature_K
        Of the copper [K], broadcast against the diameters.

    Returns
    -------
    ndarray
        Resistance per length [ohm/m].

    Notes
    -----
    Tolerances of drawn wire alone make this uncertain by 2 % at AWG 30 and more for thinner wire.
    Skin effect is negligible: at 10 kHz the skin depth (0.66 mm) is still above the radius of
    AWG 18.

    Examples
    --------
    >>> round(float(resistance_ohm_m(0.127e-3)), 4)
    1.3611
    """
    return resistivity_ohm_m(temperature_K) / copper_area_m2(bare_diameter_m)


def wire_resistance_ohm(
    length_m: ArrayLike,
    bare_diameter_m: ArrayLike,
    temperature_K: ArrayLike = REFERENCE_TEMPERATURE_K,
) -> NDArray[np.float64]:
    """Return the resistance of a length of wire.

    Parameters
    ----------
    length_m, bare_diameter_m, temperature_K
        Length [m], copper diameter [m] and temperature [K], broadcast against each other.

    Returns
    -------
    ndarray
        Resistance [ohm].
    """
    return np.asarray(length_m, dtype=float) * resistance_ohm_m(bare_diameter_m, temperature_K)


def recommended_current_A(
    bare_diameter_m: ArrayLike, density_A_m2: float = CURRENT_DENSITY_A_M2
) -> NDArray[np.float64]:
    """Return the continuous current at a stated current density.

    Parameters
    ----------
    bare_diameter_m
        Of the copper [m], any shape.
    density_A_m2
        RMS current per copper area [A/m2]. The default 3 A/mm2 is common practice for small closed
        coils that run continuously (2 to 5 A/mm2 is usual; no published source): the heat of inner
        layers has to pass the outer ones. Single layers in free air and short runs bear more.

    Raises
    ------
    ValueError
        If the density is not above zero.

    Examples
    --------
    >>> round(float(recommended_current_A(0.2019e-3)), 3)
    0.096
    """
    if not density_A_m2 > 0:
        raise ValueError(f"a current density must be above zero; given {density_A_m2} A/m2")
    return density_A_m2 * copper_area_m2(bare_diameter_m)


def temperature_rise_K(
    power_W: ArrayLike, surface_m2: ArrayLike, film_W_m2K: float = SURFACE_FILM_W_M2K
) -> NDArray[np.float64]:
    """Estimate how much warmer than the air a winding's surface settles.

    Parameters
    ----------
    power_W
        Heat in the copper, averaged over time [W].
    surface_m2
        Surface open to the air [m2], broadcast against the power.
    film_W_m2K
        Heat passed per area and degree [W/(m2 K)]; the default 10 is common practice for small
        parts in still air, convection and radiation together (8 to 12 is usual).

    Returns
    -------
    ndarray
        Rise of the surface [K]; the inside is hotter.

    Raises
    ------
    ValueError
        If a surface or the film coefficient is not above zero.

    Notes
    -----
    rise = P / (h A), in the steady state that a winding of this size comes near after some ten
    minutes: good to a factor of about 1.5. The loss itself grows with the resistance of the warm
    wire (0.4 % a degree): see `warming_per_W`.

    Examples
    --------
    >>> float(temperature_rise_K(0.5, 5e-3))
    10.0
    """
    surface = np.asarray(surface_m2, dtype=float)
    if not (np.all(surface > 0) and film_W_m2K > 0):
        raise ValueError("the surface and the film coefficient must be above zero")
    return np.asarray(np.asarray(power_W, dtype=float) / (film_W_m2K * surface), dtype=float)


def warming_per_W(
    surface_m2: ArrayLike,
    temperature_K: ArrayLike = REFERENCE_TEMPERATURE_K,
    film_W_m2K: float = SURFACE_FILM_W_M2K,
) -> NDArray[np.float64]:
    """Return by which share of itself a winding's resistance grows for each watt that it loses.

    Parameters
    ----------
    surface_m2
        Surface open to the air [m2], any shape.
    temperature_K
        Of the air, and of the wire without current [K].
    film_W_m2K
        As in `temperature_rise_K`.

    Returns
    -------
    ndarray
        Relative growth per watt [1/W]: the resistance at rest times one plus this times the loss.

    Notes
    -----
    The warm state that lasting current leads to, after some ten minutes; a coil that is used for
    seconds stays as cold as its surroundings. All wire is taken to be as warm as the surface, from
    `temperature_rise_K`: the inside is warmer. With copper's straight line
    R = R20 (1 + alpha (T - 20 degC)) the growth is alpha rise / (1 + alpha (T_air - 20 degC)).

    Examples
    --------
    Half a watt from 50 cm2 makes 10 K, which are 3.93 % in a room of 20 degC:

    >>> round(0.5 * float(warming_per_W(5e-3)), 6)
    0.0393
    """
    per_kelvin = ALPHA_20C_PER_K * RESISTIVITY_20C_OHM_M / resistivity_ohm_m(temperature_K)
    return np.asarray(per_kelvin * temperature_rise_K(1.0, surface_m2, film_W_m2K))


def copper_temperature_K(ratio: float, temperature_K: float = REFERENCE_TEMPERATURE_K) -> float:
    """Return the temperature at which copper has a multiple of its resistance at another [K].

    Parameters
    ----------
    ratio
        The multiple.
    temperature_K
        The other temperature [K].

    Examples
    --------
    >>> round(copper_temperature_K(float(resistivity_ohm_m(348.15) / resistivity_ohm_m())), 6)
    348.15
    """
    per_ohm_m = 1.0 / (RESISTIVITY_20C_OHM_M * ALPHA_20C_PER_K)
    return temperature_K + (ratio - 1.0) * float(resistivity_ohm_m(temperature_K)) * per_ohm_m


def heating_caution(
    where: str, rise_K: float, air_K: float = REFERENCE_TEMPERATURE_K
) -> Caution | None:
    """Return a caution if a winding gets hot enough to hurt or to fail, else None.

    Parameters
    ----------
    where
        Name of the coil.
    rise_K
        Estimated rise of the surface above the air [K].
    air_K
        Temperature of the air [K].

    Examples
    --------
    >>> heating_caution("pickup", 10.0) is None
    True
    >>> caution = heating_caution("pickup", 50.0)
    >>> caution.where, caution.value, caution.limit
    ('pickup', 343.15, 333.15)
    """
    surface_K = air_K + rise_K
    if surface_K < HOT_TO_TOUCH_K:
        return None
    limit_K = ENAMEL_K if surface_K >= ENAMEL_K else HOT_TO_TOUCH_K
    return Caution(Hazard.COIL_HEAT, where, surface_K, limit_K, {"enamel_K": ENAMEL_K})
