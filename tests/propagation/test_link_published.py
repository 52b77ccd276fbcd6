"""The link budget against worked figures published elsewhere."""

from __future__ import annotations

import pytest

from relays.propagation import link, units
from relays.propagation.feedline import CABLES, Feedline
from relays.propagation.noise import implied_noise_figure_db
from relays.propagation.terminal import Terminal

# The worked example prints 0.1 dB a line.
HALF_A_TENTH_DB = 0.05


def test_worked_example_of_effective_radiated_power() -> None:
    """A published licensing example: 4 W = 6.0 dBW; 3.4 dB lost in line, filter and four connectors at
    0.25 dB; 2.6 dBW at the antenna; 6.0 dB over a dipole; 8.6 dBW e.r.p."""
    filter_db = 1.0
    line_db = 3.4 - 4 * 0.25 - filter_db
    cable = CABLES["low_loss_400"]
    per_metre_db = (cable.a * 150**0.5 + cable.b * 150) / 30.48
    sender = Terminal(
        name="fixed",
        power_w=4.0,
        antenna_gain_dbi=units.dbi_from_dbd(6.0),
        sensitivity_dbm=-116.0,
        feedline=Feedline("low_loss_400", line_db / per_metre_db, connectors=4),
        duplexer_loss_db=filter_db,
    )
    one_way = link.direction(sender, sender, frequency_mhz=150.0, path_loss_db=100.0, location_sigma_db=0.0)
    first, *losses, gain = [line.value for line in one_way.lines if line.part == "transmit"]
    assert first - 30 == pytest.approx(6.0, abs=HALF_A_TENTH_DB)
    assert sum(losses) == pytest.approx(-3.4, abs=HALF_A_TENTH_DB)
    assert one_way.eirp_dbm - gain - 30 == pytest.approx(2.6, abs=HALF_A_TENTH_DB)
    assert one_way.eirp_dbm - units.DIPOLE_GAIN_DBI - 30 == pytest.approx(8.6, abs=HALF_A_TENTH_DB)


@pytest.mark.parametrize(
    ("from_w", "to_w", "gain_db"), [(5.0, 8.0, 2.0), (5.0, 10.0, 3.0), (5.0, 50.0, 10.0), (50.0, 25.0, -3.0)]
)
def test_what_power_buys(from_w: float, to_w: float, gain_db: float) -> None:
    # The definition of the decibel, to the tenth that is quoted.
    assert link.power_change_db(from_w, to_w) == pytest.approx(gain_db, abs=HALF_A_TENTH_DB)


def test_sensitivity_cross_check() -> None:
    # -174 + 10 log 12500 + NF 8 + C/N 5 = -120.0 dBm = 0.224 µV; published pairs 0.224 µV, -120 dBm.
    sensitivity_dbm = units.dbm_from_microvolts(0.224)
    assert sensitivity_dbm == pytest.approx(-120.0, abs=HALF_A_TENTH_DB)
    assert implied_noise_figure_db(sensitivity_dbm, 12.5) == pytest.approx(8.0, abs=0.1)


def test_in_free_space_the_level_is_that_of_friis() -> None:
    """P.525-5: 95.69 dB over 10 km at 146 MHz. 5 W between half-wave dipoles arrive at
    36.99 + 2.15 - 95.69 + 2.15 = -54.40 dBm (added by hand)."""
    end = Terminal(name="dipole", power_w=5.0, antenna_gain_dbi=2.15, sensitivity_dbm=-119.0)
    one_way = link.direction(end, end, frequency_mhz=146.0, path_loss_db=95.69, location_sigma_db=0.0)
    assert one_way.received_dbm == pytest.approx(-54.40, abs=0.005)


def test_noise_raises_the_threshold_by_the_published_combination() -> None:
    """P.372: residential 12.55 dB at 146 MHz with a receiver of 8 dB makes 13.67 dB, 5.67 dB more. A
    sensitivity of -120.01 dBm in 12.5 kHz is that receiver; a dipole without line lets all noise in."""
    end = Terminal(name="dipole", power_w=5.0, antenna_gain_dbi=2.15, sensitivity_dbm=-120.01)
    one_way = link.direction(
        end, end, frequency_mhz=146.0, path_loss_db=100.0, location_sigma_db=0.0, required_db=0.0
    )
    assert one_way.threshold_dbm - end.sensitivity_dbm == pytest.approx(5.67, abs=0.02)
