//! Relative times along paths, from speed, and whether two animals could have been at one place together.

use super::path::{Path, SpeedRange};
use serde::Serialize;

/// Said wherever times are given.
pub const TIMELINE_CAUTION: &str = "Times run along each trackway at the speed told by its strides, held for the whole way. Nothing on \
    a rock tells how long one animal came after another: whether two were together is told under the assumption of a common \
    time, that both made the prints named here at one moment.";

/// The normal law's 97.5 % quantile: half the width of a 95 % interval, in standard deviations.
const HALF: f64 = 1.959_963_984_540_054;

/// A time with its 95 % interval, seconds.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Seconds {
    /// The time.
    pub s: f64,
    /// The interval's lower end.
    pub lower_s: f64,
    /// The interval's upper end.
    pub upper_s: f64,
}

/// What two times say of two animals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Together {
    /// How much longer the first takes than the other: by so much sooner it must have passed its print for both to be there at
    /// one moment; below zero, later.
    pub longer_s: Seconds,
    /// Whether the interval holds zero: both could have passed their prints at one moment and been there together.
    pub could: bool,
}

/// The time that a way of this length takes.
///
/// # Formula
/// t = d / v. SpeedRange and distance err as parts of themselves and independently: the half width of ln t is √(w² + (1.96 σ / d)²),
/// w that of ln v on either side, σ the distance's standard deviation.
///
/// `None` where the speed is not above zero, its interval does not hold it, or the distance is below zero.
#[must_use]
pub fn seconds_between(distance_m: f64, distance_sd_m: f64, speed: &SpeedRange) -> Option<Seconds> {
    let sound = speed.low_m_s > 0.0
        && speed.low_m_s <= speed.speed_m_s
        && speed.speed_m_s <= speed.high_m_s
        && speed.high_m_s.is_finite()
        && distance_m >= 0.0
        && distance_m.is_finite()
        && distance_sd_m >= 0.0;
    if !sound {
        return None;
    }
    let s = distance_m / speed.speed_m_s;
    if distance_m == 0.0 {
        // Nothing to go; how uncertain that is can only be told in metres.
        let upper_s = HALF * distance_sd_m / speed.speed_m_s;
        return Some(Seconds {
            s,
            lower_s: 0.0,
            upper_s,
        });
    }
    let of_way = HALF * distance_sd_m / distance_m;
    let slower = (speed.speed_m_s / speed.low_m_s).ln();
    let faster = (speed.high_m_s / speed.speed_m_s).ln();
    Some(Seconds {
        s,
        lower_s: s * (-faster.hypot(of_way)).exp(),
        upper_s: s * slower.hypot(of_way).exp(),
    })
}

/// The time from each place of a path's line until a place beyond its last, `ahead_m` farther along its way; with
/// `ahead_m` of zero, until the last itself. In the order of the path.
///
/// `None` as for [`seconds_between`].
#[must_use]
pub fn seconds_before(
    path: &Path,
    ahead_m: f64,
    ahead_sd_m: f64,
    speed: &SpeedRange,
) -> Option<Vec<Seconds>> {
    let length_m = path.length_m();
    let each = path.walked_m.iter().map(|walked_m| length_m - walked_m + ahead_m);
    each.map(|distance_m| seconds_between(distance_m.max(0.0), ahead_sd_m, speed))
        .collect()
}

/// Whether two animals could have been at one place together: the times that each takes from the print where the common
/// moment is assumed. For companions these are the times for the stretch that they share; that they agree is what
/// walking together asks for.
///
/// # Formula
/// The difference of independent times with intervals of unequal halves: lower² = (t₁ − l₁)² + (u₂ − t₂)²,
/// upper² = (u₁ − t₁)² + (t₂ − l₂)².
///
/// # References
/// Zou, G. Y. & Donner, A. (2008), Statistics in Medicine 27, 1693-1702: confidence limits of a difference by recovered
/// variances (from memory).
#[must_use]
pub fn together(first: &Seconds, other: &Seconds) -> Together {
    let s = first.s - other.s;
    let longer_s = Seconds {
        s,
        lower_s: s - (first.s - first.lower_s).hypot(other.upper_s - other.s),
        upper_s: s + (first.upper_s - first.s).hypot(other.s - other.lower_s),
    };
    Together {
        could: longer_s.lower_s <= 0.0 && longer_s.upper_s >= 0.0,
        longer_s,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WALK: SpeedRange = SpeedRange {
        speed_m_s: 2.0,
        low_m_s: 1.0,
        high_m_s: 4.0,
    };

    #[test]
    fn ten_metres_at_two_metres_a_second() {
        // 10 m / 2 m/s; at 4 m/s 2.5 s, at 1 m/s 10 s.
        let time = seconds_between(10.0, 0.0, &WALK).unwrap();
        assert!((time.s - 5.0).abs() < 1e-12);
        assert!((time.lower_s - 2.5).abs() < 1e-12 && (time.upper_s - 10.0).abs() < 1e-12);
    }

    #[test]
    fn an_uncertain_distance_widens_the_interval() {
        // 1.96 · 2 / 10 = 0.392; hypot(ln 2, 0.392) = 0.796308; exp = 2.217339.
        let time = seconds_between(10.0, 2.0, &WALK).unwrap();
        assert!((time.upper_s - 5.0 * 2.217_339).abs() < 1e-3, "{time:?}");
        assert!((time.lower_s - 5.0 / 2.217_339).abs() < 1e-3);
    }

    #[test]
    fn what_is_no_speed_gives_no_time() {
        for speed in [
            SpeedRange {
                speed_m_s: 0.0,
                ..WALK
            },
            SpeedRange { low_m_s: 0.0, ..WALK },
            SpeedRange {
                speed_m_s: f64::NAN,
                ..WALK
            },
            SpeedRange {
                high_m_s: 1.5,
                ..WALK
            },
        ] {
            assert_eq!(seconds_between(1.0, 0.0, &speed), None);
        }
        assert_eq!(seconds_between(-1.0, 0.0, &WALK), None);
        assert_eq!(seconds_between(f64::NAN, 0.0, &WALK), None);
    }

    #[test]
    fn times_run_down_along_a_path() {
        let line = vec![[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]];
        let path = Path::along("T1".parse().unwrap(), line, 0.3).unwrap();
        // 7, 4 and 0 m of the line, and 3 m beyond it.
        let times: Vec<f64> = seconds_before(&path, 3.0, 0.0, &WALK)
            .unwrap()
            .iter()
            .map(|time| time.s)
            .collect();
        assert_eq!(times, [5.0, 3.5, 1.5]);
        let last = seconds_before(&path, 0.0, 0.0, &WALK).unwrap()[2];
        assert_eq!((last.s, last.lower_s, last.upper_s), (0.0, 0.0, 0.0));
    }

    #[test]
    fn who_could_have_been_there_together() {
        let time = |s: f64, lower_s: f64, upper_s: f64| Seconds { s, lower_s, upper_s };
        // 20 s (16 to 26) against 10 s (7 to 13): 10 − hypot(4, 3) = 5, 10 + hypot(6, 3) = 16.7082.
        let apart = together(&time(20.0, 16.0, 26.0), &time(10.0, 7.0, 13.0));
        assert!((apart.longer_s.lower_s - 5.0).abs() < 1e-12);
        assert!((apart.longer_s.upper_s - 16.708_203_9).abs() < 1e-6);
        assert!(!apart.could);
        assert!(together(&time(20.0, 12.0, 26.0), &time(14.0, 10.0, 20.0)).could);
        let turned = together(&time(10.0, 7.0, 13.0), &time(20.0, 16.0, 26.0));
        assert!((turned.longer_s.s + apart.longer_s.s).abs() < 1e-12);
        assert!((turned.longer_s.upper_s + apart.longer_s.lower_s).abs() < 1e-12);
    }
}
