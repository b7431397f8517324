//! Road power (Martin, Milliken, Cobb, McFadden, Coggan 1998, J. Appl. Biomech. 14:276–291).

/// Acceleration of gravity, m/s² (M: as in the source).
pub const GRAVITY: f64 = 9.81;

/// Share of the work at the pedals that reaches the road (M: as in the source).
pub const DEFAULT_EFFICIENCY: f64 = 0.97698;

/// What a bike and its rider need on the road.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadLoad {
    /// Mass of rider, bike and load, kg.
    pub mass_kg: f64,
    /// Drag area C_d·A, m².
    pub drag_area_m2: f64,
    /// Drag area of the turning wheels F_w, m² (0.0044 in the source, S).
    pub wheel_drag_area_m2: f64,
    /// Rolling force over weight C_rr (0.0032 in the source, M).
    pub rolling: f64,
    /// Moment of inertia of both wheels, kg·m² (0.14 in the source, M).
    pub wheel_inertia_kg_m2: f64,
    /// Radius of the tyre, m (0.311 in the source, M).
    pub tyre_radius_m: f64,
    /// Density of the air, kg/m³.
    pub air_density_kg_m3: f64,
    /// Share of the work at the pedals that reaches the road E_c.
    pub efficiency: f64,
}

/// A stretch of road ridden at a steady change of speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Mean speed over the ground V_g, m/s.
    pub speed_m_s: f64,
    /// Speed at the start, m/s.
    pub speed_at_start_m_s: f64,
    /// Speed at the end, m/s.
    pub speed_at_end_m_s: f64,
    /// Duration, s; positive.
    pub seconds: f64,
    /// Rise over run G.
    pub grade: f64,
    /// Head wind, m/s; negative from behind.
    pub head_wind_m_s: f64,
}

/// Power by cause, W.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct PowerParts {
    /// Against the air.
    pub air: f64,
    /// Rolling.
    pub rolling: f64,
    /// Wheel bearings.
    pub bearings: f64,
    /// Against gravity.
    pub potential: f64,
    /// Into speed.
    pub kinetic: f64,
    /// Share of the work at the pedals that reaches the road.
    pub efficiency: f64,
}

impl PowerParts {
    /// Power at the road, W; negative when the bike gives it back.
    #[must_use]
    pub fn at_road(&self) -> f64 {
        self.air + self.rolling + self.bearings + self.potential + self.kinetic
    }

    /// Power at the pedals, W. Negative power is no power: nobody pedals it, brakes take it.
    #[must_use]
    pub fn at_pedals(&self) -> f64 {
        (self.at_road() / self.efficiency).max(0.0)
    }
}

/// Component of the wind against a rider, m/s, from the bearings that the wind comes from and the rider heads to.
#[must_use]
pub fn head_wind_m_s(wind_m_s: f64, from_degrees: f64, heading_degrees: f64) -> f64 {
    // V_wTAN = V_w·cos(D_w − D_b)
    wind_m_s * (from_degrees - heading_degrees).to_radians().cos()
}

impl RoadLoad {
    /// Power on a stretch.
    #[must_use]
    pub fn power(&self, stretch: &Stretch) -> PowerParts {
        // P = [½ρ(C_dA + F_w)·V_a|V_a|·V_g + V_g·C_rr·m·g·cos(atan G) + V_g(91 + 8.7V_g)·10⁻³
        //      + V_g·m·g·sin(atan G) + ½(m + I/r²)(V_f² − V_i²)/t] / E_c
        let v = stretch.speed_m_s;
        let v_air = v + stretch.head_wind_m_s;
        let slope = stretch.grade.atan();
        let weight = self.mass_kg * GRAVITY;
        let inertia = self.mass_kg + self.wheel_inertia_kg_m2 / self.tyre_radius_m.powi(2);
        PowerParts {
            air: 0.5
                * self.air_density_kg_m3
                * (self.drag_area_m2 + self.wheel_drag_area_m2)
                * v_air
                * v_air.abs()
                * v,
            rolling: v * self.rolling * weight * slope.cos(),
            bearings: v * (91.0 + 8.7 * v) * 1e-3,
            potential: v * weight * slope.sin(),
            kinetic: 0.5 * inertia * (stretch.speed_at_end_m_s.powi(2) - stretch.speed_at_start_m_s.powi(2))
                / stretch.seconds,
            efficiency: self.efficiency,
        }
    }
}
