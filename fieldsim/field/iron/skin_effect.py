"""Solid metal in a changing field: what eddy currents leave of its permeability.

A bar that is long beside its section, in a field along itself that is even over its surface, has
within it the field that obeys H'' = k^2 H over the section, with k^2 = i omega mu sigma for fields
that go as exp(i omega t). Its average over that at the surface times the permeability is what the
bar does as a whole: the effective permeability, complex because the flux lags behind. Slow fields
find the permeability itself, fast ones nothing: the flux keeps to a skin. Without resistivity there
are no eddy currents.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldsim.machine.materials import Material

__all__ = ["plate_permeability", "rectangle_permeability", "rod_permeability", "skin_depth_m"]

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

_MU0 = 4e-7 * math.pi
_LARGE = 1e4  # argument from which on two terms are exact to rounding
_TERMS = 400  # of the series for a rectangle, which fall as their fifth power in the end


def skin_depth_m(of: Material, omega_rad_per_s: ArrayLike) -> Array:
    """Return the depth at which a flat surface's field has fallen to 1/e [m].

    Parameters
    ----------
    of
        The material; infinite without resistivity.
    omega_rad_per_s
        Angular frequencies, any shape; at zero the depth is infinite.

    Notes
    -----
    sqrt(2 / (omega mu sigma)) (J. D. Jackson, Classical Electrodynamics, section 5.18).

    Examples
    --------
    >>> steel = Material(500, resistivity=1 / 7e6)
    >>> round(1e3 * float(skin_depth_m(steel, 2 * math.pi * 100)), 2)
    0.85
    """
    omega = np.abs(np.asarray(omega_rad_per_s, dtype=float))
    with np.errstate(divide="ignore"):
        return np.asarray(math.sqrt(2.0) / np.sqrt(omega * _permeability_by_ohm(of)))


def rod_permeability(of: Material, radius_m: float, omega_rad_per_s: ArrayLike) -> Complex:
    """Return the effective relative permeability of a round bar along itself.

    Parameters
    ----------
    of
        The material.
    radius_m
        Of the bar [m].
    omega_rad_per_s
        Angular frequencies of fields that go as exp(i omega t), any shape.

    Notes
    -----
    mu 2 J1(ka) / (ka J0(ka)) with k^2 = -i omega mu sigma (L. D. Landau and E. M. Lifshitz,
    Electrodynamics of Continuous Media, section 59, from memory), here by modified Bessel
    functions, whose common exponential cancels.

    Examples
    --------
    >>> steel = Material(500, resistivity="0.15 uohm*m")
    >>> rod_permeability(steel, 0.004, [0.0, 1e3]).round(1).tolist()
    [(500+0j), (86.6-78.8j)]
    """
    from scipy.special import ive

    z = _wave_number(of, omega_rad_per_s) * radius_m
    near = np.where((z == 0) | (np.abs(z) > _LARGE), 1.0, z)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = 2.0 * ive(1, near) / (near * ive(0, near))
        far = 2.0 / z - 1.0 / z**2
    share = np.where(np.abs(z) > _LARGE, far, share)
    return np.asarray(of.permeability * np.where(z == 0, 1.0, share))


def plate_permeability(of: Material, thickness_m: float, omega_rad_per_s: ArrayLike) -> Complex:
    """Return the effective relative permeability of a plate along itself.

    Parameters
    ----------
    of
        The material.
    thickness_m
        Of the plate [m]; both its faces see the same field.
    omega_rad_per_s
        Angular frequencies, any shape.

    Notes
    -----
    mu tanh(kd/2) / (kd/2) with k^2 = i omega mu sigma (J. D. Jackson, Classical Electrodynamics,
    section 5.18, solved between two faces).

    Examples
    --------
    >>> steel = Material(500, resistivity="0.15 uohm*m")
    >>> plate_permeability(steel, 0.001, [0.0, 1e3]).round(1).tolist()
    [(500+0j), (438-148.3j)]
    """
    z = _wave_number(of, omega_rad_per_s) * (thickness_m / 2)
    return np.asarray(of.permeability * _tanh_over(z))


def rectangle_permeability(
    of: Material, edges_m: tuple[float, float], omega_rad_per_s: ArrayLike
) -> Complex:
    """Return the effective relative permeability of a bar of rectangular section along itself.

    Parameters
    ----------
    of
        The material.
    edges_m
        Of the section [m].
    omega_rad_per_s
        Angular frequencies, any shape.

    Notes
    -----
    The plate as thick as the shorter edge, and what its open ends add: with half edges a and b,
    p_n = (2n + 1) pi / (2a) and g_n^2 = k^2 + p_n^2, the field that is one on all four sides is
    cosh(kx)/cosh(ka) and a sum of cos(p_n x) cosh(g_n y), whose average is the sum of
    2/(p_n a)^2 (k/g_n)^2 tanh(g_n b)/(g_n b). A wide bar is a plate.

    Examples
    --------
    >>> steel = Material(500, resistivity="0.15 uohm*m")
    >>> rectangle_permeability(steel, (0.008, 0.008), [0.0, 1e3]).round(1).tolist()
    [(500+0j), (86.4-76.9j)]
    """
    a, b = sorted(edge / 2 for edge in edges_m)
    k: Complex = _wave_number(of, omega_rad_per_s)[..., None]
    p = (2 * np.arange(_TERMS) + 1) * (math.pi / (2 * a))
    g: Complex = np.sqrt(k * k + p * p)
    ends = (2.0 / (p * a) ** 2 * (k / g) ** 2 * _tanh_over(g * b)).sum(axis=-1)
    return np.asarray(of.permeability * (_tanh_over(k[..., 0] * a) + ends))


def _permeability_by_ohm(of: Material) -> float:
    """Return permeability times conductivity [s/m2]; nothing without resistivity."""
    return 0.0 if of.resistivity is None else _MU0 * of.permeability / of.resistivity


def _wave_number(of: Material, omega_rad_per_s: ArrayLike) -> Complex:
    """Return k [1/m], its real part not below zero."""
    omega = np.asarray(omega_rad_per_s, dtype=float)
    return np.asarray(np.sqrt(1j * omega * _permeability_by_ohm(of)))


def _tanh_over(z: Complex) -> Complex:
    """Return tanh(z)/z for real parts not below zero, however large; one at zero."""
    small = np.abs(z) < 1e-6  # where two terms are exact to rounding
    safe = np.where(small, 1.0, z)
    fallen = np.exp(-2.0 * safe)
    share = (1.0 - fallen) / (1.0 + fallen) / safe
    return np.asarray(np.where(small, 1.0 - z * z / 3.0, share))
