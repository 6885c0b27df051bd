//! The sea around the anchor as a plane: metres east and north.

use serde::{Deserialize, Serialize};

use crate::position::{Position, degree_lengths};
use crate::units::normal_degrees;

/// A spot, or the way from one to another, in metres east and north.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Spot {
    /// East.
    pub east: f64,
    /// North.
    pub north: f64,
}

impl Spot {
    /// The unit vector of a bearing.
    pub fn toward(bearing_deg: f64) -> Self {
        let (sin, cos) = bearing_deg.to_radians().sin_cos();
        Self {
            east: sin,
            north: cos,
        }
    }

    /// Its length.
    pub fn length(self) -> f64 {
        self.east.hypot(self.north)
    }

    /// The unit vector of its direction; none for one without length.
    pub fn direction(self) -> Option<Self> {
        let length = self.length();
        (length > 1e-9).then(|| self * (1.0 / length))
    }

    /// Its bearing, degrees.
    pub fn bearing_deg(self) -> f64 {
        normal_degrees(self.east.atan2(self.north).to_degrees())
    }

    /// How far it leads along the unit vector `direction`.
    pub fn along(self, direction: Self) -> f64 {
        self.east * direction.east + self.north * direction.north
    }

    /// The angle between two directions, 0 to 180°.
    pub fn angle_to(self, other: Self) -> f64 {
        let cross = self.east * other.north - self.north * other.east;
        cross.atan2(self.along(other)).to_degrees().abs()
    }
}

impl std::ops::Add for Spot {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            east: self.east + other.east,
            north: self.north + other.north,
        }
    }
}

impl std::ops::Sub for Spot {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self {
            east: self.east - other.east,
            north: self.north - other.north,
        }
    }
}

impl std::ops::Mul<f64> for Spot {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self {
            east: self.east * by,
            north: self.north * by,
        }
    }
}

/// A plane that touches the Earth at one place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Plane {
    origin: Position,
    north_m: f64,
    east_m: f64,
}

impl Plane {
    /// Makes the plane at a place.
    pub fn at(origin: Position) -> Self {
        let (north, east) = degree_lengths(origin.latitude_deg)
            .map_or((111_000.0, 111_000.0), |(north, east)| (north.0, east.0));
        Self {
            origin,
            north_m: north,
            east_m: east,
        }
    }

    /// Returns where a place is on it; good to a metre within some miles.
    pub fn spot(&self, place: Position) -> Spot {
        let east = place.longitude_deg - self.origin.longitude_deg;
        let east = normal_degrees(east + 180.0) - 180.0;
        Spot {
            east: east * self.east_m,
            north: (place.latitude_deg - self.origin.latitude_deg) * self.north_m,
        }
    }

    /// Returns which place a spot is.
    pub fn place(&self, spot: Spot) -> Position {
        Position {
            latitude_deg: self.origin.latitude_deg + spot.north / self.north_m,
            longitude_deg: self.origin.longitude_deg + spot.east / self.east_m,
        }
    }
}

/// Returns the middle one of some numbers; the mean of the two in the middle of an even count.
pub(super) fn median(numbers: &mut [f64]) -> Option<f64> {
    numbers.sort_by(f64::total_cmp);
    let middle = numbers.len() / 2;
    match numbers.len() {
        0 => None,
        count if count % 2 == 1 => Some(numbers[middle]),
        _ => Some(f64::midpoint(numbers[middle - 1], numbers[middle])),
    }
}

/// Returns the middle of some spots, east and north apart.
pub(super) fn middle(spots: &[Spot]) -> Option<Spot> {
    let mut east: Vec<f64> = spots.iter().map(|spot| spot.east).collect();
    let mut north: Vec<f64> = spots.iter().map(|spot| spot.north).collect();
    Some(Spot {
        east: median(&mut east)?,
        north: median(&mut north)?,
    })
}

/// Returns the mean of some spots, or of directions as a vector whose length tells how much they agree.
pub(super) fn mean(spots: impl IntoIterator<Item = Spot>) -> Option<Spot> {
    let mut count = 0.0;
    let mut sum = Spot::default();
    for spot in spots {
        sum = sum + spot;
        count += 1.0;
    }
    (count > 0.0).then(|| sum * (1.0 / count))
}
