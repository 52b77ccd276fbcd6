"""What a prediction says: the loss, and every figure on the way to it."""

from __future__ import annotations

from dataclasses import dataclass

from relays.propagation.p1812.climate import Climate
from relays.propagation.p1812.combine import Combination
from relays.propagation.p1812.diffraction import Diffraction
from relays.propagation.p1812.ducting import Ducting
from relays.propagation.p1812.free_space import LineOfSight
from relays.propagation.p1812.inputs import Path
from relays.propagation.p1812.profile_analysis import (
    Horizons,
    Obstacle,
    PathType,
    SmoothSurface,
)


@dataclass(frozen=True, slots=True)
class Prediction:
    """One path by Recommendation ITU-R P.1812-8, numbers in brackets being its equations.

    Losses are positive dB. Heights ``_amsl_m`` are above sea level. Angles are in mrad above the local
    horizontal. Indexes count profile points, 0 at the transmitter.
    "Median" figures hold for the median effective Earth radius, "anomalous" ones for the radius
    exceeded for ``anomalous_time_percent`` of the time.
    """

    # The answer
    loss_db: float  # basic transmission loss L_b (69)
    field_dbuv_m: float  # field strength E_p for 1 kW e.r.p. (70)

    # The path
    path_type: PathType
    path_length_km: float
    wavelength_m: float
    tx_amsl_m: float
    rx_amsl_m: float
    centre_latitude_deg: float

    # The air
    sea_fraction: float  # omega
    longest_land_km: float  # d_tm, inland and coastal
    longest_inland_km: float  # d_lm
    anomalous_time_percent: float  # beta_0 (5)
    median_radius_factor: float  # k_50 (6)
    median_radius_km: float  # a_e (7a)
    anomalous_radius_km: float  # a_beta (7b)

    # The smooth surface, m above sea level at each end
    fitted_tx_amsl_m: float  # h_st before any correction (87)
    fitted_rx_amsl_m: float  # h_sr before any correction (88)
    diffraction_smooth_tx_amsl_m: float  # h_std (91)
    diffraction_smooth_rx_amsl_m: float  # h_srd (91)
    ducting_smooth_tx_amsl_m: float  # h_st (92)
    ducting_smooth_rx_amsl_m: float  # h_sr (92)

    # Effective antenna heights and roughness
    diffraction_tx_effective_m: float  # h'_te (37)
    diffraction_rx_effective_m: float  # h'_re (37)
    ducting_tx_effective_m: float  # h_te (94)
    ducting_rx_effective_m: float  # h_re (94)
    roughness_m: float  # h_m (95)

    # Horizons, on bare ground
    tx_horizon_index: int
    rx_horizon_index: int
    tx_horizon_km: float  # d_lt (80)
    rx_horizon_km: float  # d_lr (83)
    tx_horizon_angle_mrad: float  # theta_t (79)
    rx_horizon_angle_mrad: float  # theta_r (82)
    angular_distance_mrad: float  # theta (84)

    # The obstacle a person would point at, clutter included; for a page, not part of the method
    obstacle_index: int
    obstacle_km: float
    obstacle_nu: float  # knife-edge parameter; below -0.78 nothing obstructs
    obstacle_above_ray_m: float  # negative where the ray clears it

    # Line of sight
    free_space_loss_db: float  # L_bfs (8)
    line_of_sight_loss_db: float  # L_b0p (10)
    anomalous_line_of_sight_loss_db: float  # L_b0beta (11)

    # Diffraction
    median_actual_bullington_db: float  # L_bulla at a_e
    median_smooth_bullington_db: float  # L_bulls at a_e
    median_spherical_earth_db: float  # L_dsph at a_e
    median_diffraction_db: float  # L_d50
    anomalous_actual_bullington_db: float  # L_bulla at a_beta
    anomalous_smooth_bullington_db: float  # L_bulls at a_beta
    anomalous_spherical_earth_db: float  # L_dsph at a_beta
    anomalous_diffraction_db: float  # L_dbeta
    time_factor: float  # F_i (40)
    diffraction_db: float  # L_dp (41)
    median_diffraction_loss_db: float  # L_bd50 (42)
    diffraction_loss_db: float  # L_bd (43)

    # The other mechanisms
    troposcatter_loss_db: float  # L_bs (44)
    ducting_loss_db: float  # L_ba (46)

    # Put together
    angle_blend: float  # F_j (57)
    distance_blend: float  # F_k (58)
    least_unducted_loss_db: float  # L_minb0p (59)
    least_ducted_loss_db: float  # L_minbap (60)
    diffraction_or_ducting_loss_db: float  # L_bda (61)
    without_scatter_loss_db: float  # L_bam (62)
    median_place_loss_db: float  # L_bc (63)
    location_loss_db: float  # L_loc, 0 at sea

    @property
    def is_line_of_sight(self) -> bool:
        """Whether the antennas see one another over bare ground in median air."""
        return self.path_type == "line-of-sight"

    @property
    def scatter_relief_db(self) -> float:
        """How much lower the troposcatter term makes the loss, dB.

        The scatter formula was fitted to long paths. On a short flat one between low antennas its
        loss, which then hardly depends on the ground, can undercut diffraction by 10 dB and more; a
        page should not promise a contact that rests on this figure.
        """
        return self.without_scatter_loss_db - self.median_place_loss_db


def assemble(
    path: Path,
    climate: Climate,
    surface: SmoothSurface,
    seen: Horizons,
    obstacle: Obstacle,
    sight: LineOfSight,
    diffracted: Diffraction,
    scatter_db: float,
    ducted: Ducting,
    combined: Combination,
) -> Prediction:
    """Copy the sections' figures into one flat record."""
    return Prediction(
        loss_db=combined.loss_db,
        field_dbuv_m=combined.field_dbuv_m,
        path_type=seen.path_type,
        path_length_km=path.length_km,
        wavelength_m=path.wavelength_m,
        tx_amsl_m=path.tx_amsl_m,
        rx_amsl_m=path.rx_amsl_m,
        centre_latitude_deg=climate.centre_latitude_deg,
        sea_fraction=climate.sea_fraction,
        longest_land_km=climate.longest_land_km,
        longest_inland_km=climate.longest_inland_km,
        anomalous_time_percent=climate.anomalous_time_percent,
        median_radius_factor=climate.median_radius_factor,
        median_radius_km=climate.median_radius_km,
        anomalous_radius_km=climate.anomalous_radius_km,
        fitted_tx_amsl_m=surface.fitted_tx_m,
        fitted_rx_amsl_m=surface.fitted_rx_m,
        diffraction_smooth_tx_amsl_m=surface.diffraction_tx_m,
        diffraction_smooth_rx_amsl_m=surface.diffraction_rx_m,
        ducting_smooth_tx_amsl_m=surface.ducting_tx_m,
        ducting_smooth_rx_amsl_m=surface.ducting_rx_m,
        diffraction_tx_effective_m=diffracted.tx_effective_m,
        diffraction_rx_effective_m=diffracted.rx_effective_m,
        ducting_tx_effective_m=ducted.tx_effective_m,
        ducting_rx_effective_m=ducted.rx_effective_m,
        roughness_m=ducted.roughness_m,
        tx_horizon_index=seen.tx_index,
        rx_horizon_index=seen.rx_index,
        tx_horizon_km=seen.tx_distance_km,
        rx_horizon_km=seen.rx_distance_km,
        tx_horizon_angle_mrad=seen.tx_angle_mrad,
        rx_horizon_angle_mrad=seen.rx_angle_mrad,
        angular_distance_mrad=seen.angular_distance_mrad,
        obstacle_index=obstacle.index,
        obstacle_km=obstacle.distance_km,
        obstacle_nu=obstacle.nu,
        obstacle_above_ray_m=obstacle.height_above_ray_m,
        free_space_loss_db=sight.free_space_db,
        line_of_sight_loss_db=sight.loss_db,
        anomalous_line_of_sight_loss_db=sight.anomalous_loss_db,
        median_actual_bullington_db=diffracted.median.actual_bullington_db,
        median_smooth_bullington_db=diffracted.median.smooth_bullington_db,
        median_spherical_earth_db=diffracted.median.spherical_earth_db,
        median_diffraction_db=diffracted.median.loss_db,
        anomalous_actual_bullington_db=diffracted.anomalous.actual_bullington_db,
        anomalous_smooth_bullington_db=diffracted.anomalous.smooth_bullington_db,
        anomalous_spherical_earth_db=diffracted.anomalous.spherical_earth_db,
        anomalous_diffraction_db=diffracted.anomalous.loss_db,
        time_factor=diffracted.time_factor,
        diffraction_db=diffracted.loss_db,
        median_diffraction_loss_db=diffracted.median_basic_db,
        diffraction_loss_db=diffracted.basic_db,
        troposcatter_loss_db=scatter_db,
        ducting_loss_db=ducted.loss_db,
        angle_blend=combined.angle_blend,
        distance_blend=combined.distance_blend,
        least_unducted_loss_db=combined.least_unducted_db,
        least_ducted_loss_db=combined.least_ducted_db,
        diffraction_or_ducting_loss_db=combined.diffraction_or_ducting_db,
        without_scatter_loss_db=combined.without_scatter_db,
        median_place_loss_db=combined.median_place_db,
        location_loss_db=combined.location_db,
    )
