"""Conversions between the units of the trade, each way.

Every function takes and gives one number. Powers, ratios, voltages and frequencies must be above 0:
NotPositiveError otherwise, since a logarithm of nothing is not a very small signal.
"""

from __future__ import annotations

import math

from relays.propagation import errors

#: Exact by the definition of the metre.
SPEED_OF_LIGHT_M_S = 299_792_458.0

#: Gain of a half-wave dipole over an isotropic antenna, dB. 10 log 1.64 = 2.148; the trade and the
#: Radio Regulations write 2.15.
DIPOLE_GAIN_DBI = 2.15

#: The impedance receivers and feedlines of the land-mobile trade are made for, ohms.
REFERENCE_OHMS = 50.0


def positive(quantity: str, value: float, unit: str) -> float:
    """The value, if it is a finite number above 0; NotPositiveError or NotFiniteError otherwise."""
    shown = f"{value:g} {unit}".rstrip()
    if not math.isfinite(value):
        raise errors.NotFiniteError(
            quantity, value, "a finite number", f"{quantity} must be a finite number; {shown} was given."
        )
    if value <= 0:
        allowed = f"more than 0 {unit}".rstrip()
        raise errors.NotPositiveError(
            quantity, value, allowed, f"{quantity} is {shown}; it must be {allowed}."
        )
    return float(value)


def db_from_ratio(power_ratio: float) -> float:
    """Decibels of a ratio of two powers."""
    return 10.0 * math.log10(positive("power_ratio", power_ratio, ""))


def ratio_from_db(level_db: float) -> float:
    """Ratio of two powers that differ by the given decibels."""
    return math.pow(10.0, level_db / 10.0)


def dbm_from_watts(power_w: float) -> float:
    """Power in decibels above one milliwatt."""
    return 10.0 * math.log10(positive("power_w", power_w, "W")) + 30.0


def watts_from_dbm(power_dbm: float) -> float:
    """Power in watts."""
    return math.pow(10.0, (power_dbm - 30.0) / 10.0)


def dbm_from_microvolts(voltage_uv: float, impedance_ohms: float = REFERENCE_OHMS) -> float:
    """Power that a voltage across a matched load delivers, dBm: 20 log uV - 106.99 across 50 ohms."""
    volts = positive("voltage_uv", voltage_uv, "uV") * 1e-6
    return dbm_from_watts(volts**2 / positive("impedance_ohms", impedance_ohms, "ohms"))


def microvolts_from_dbm(power_dbm: float, impedance_ohms: float = REFERENCE_OHMS) -> float:
    """Voltage in microvolts across a matched load that takes the given power."""
    watts = watts_from_dbm(power_dbm)
    return math.sqrt(watts * positive("impedance_ohms", impedance_ohms, "ohms")) * 1e6


def dbi_from_dbd(gain_dbd: float) -> float:
    """Gain over an isotropic antenna of a gain over a half-wave dipole."""
    return gain_dbd + DIPOLE_GAIN_DBI


def dbd_from_dbi(gain_dbi: float) -> float:
    """Gain over a half-wave dipole of a gain over an isotropic antenna."""
    return gain_dbi - DIPOLE_GAIN_DBI


def wavelength_m(frequency_mhz: float) -> float:
    """Wavelength in free space, m."""
    return SPEED_OF_LIGHT_M_S / (positive("frequency_mhz", frequency_mhz, "MHz") * 1e6)


def field_dbuv_m_from_eirp(eirp_dbw: float, distance_km: float) -> float:
    """Free-space field strength in dB above one microvolt per metre.

    Source: Recommendation ITU-R P.525-5 (11/2024), conversion relations: P - 20 log d + 74.8.
    """
    return eirp_dbw - 20.0 * math.log10(positive("distance_km", distance_km, "km")) + 74.8


def dbm_from_field(field_dbuv_m: float, frequency_mhz: float, gain_dbi: float = 0.0) -> float:
    """Power in dBm that an antenna takes out of a field.

    Source: Recommendation ITU-R P.525-5 (11/2024), conversion relations: E - 20 log f(GHz) - 167.2 dBW
    for an isotropic antenna; 30 dB more in dBm, plus the antenna's gain.
    """
    frequency_ghz = positive("frequency_mhz", frequency_mhz, "MHz") / 1000.0
    return field_dbuv_m - 20.0 * math.log10(frequency_ghz) - 167.2 + 30.0 + gain_dbi
