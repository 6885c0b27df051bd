//! The night as it was: the minutes that were kept, drawn around the anchor, and the alarms on record.

use crate::fleet::{Fleet, FleetError};
use journal::Ledger;
use journal::watch::{NightAlarm, NightMinute, NightPage, OnRecord};
use seamanship::position::Position;
use seamanship::watch::Spot;
use std::fmt::Write as _;

/// How far back a night reaches, ms: a day.
const A_DAY_MS: i64 = 86_400_000;
/// Metres in a degree of latitude, on a sphere: for drawing alone.
const DEGREE_M: f64 = 111_194.9;

/// Makes the page of the day before `now_ms`.
///
/// # Errors
/// [`FleetError`] if this server has no ship.
pub async fn night(fleet: &std::sync::Arc<Fleet>, now_ms: i64) -> Result<NightPage, FleetError> {
    let own = fleet.own_vessel().ok_or(FleetError::NoShip)?;
    let read = |ledger: &Ledger| {
        let on = OnRecord::of(ledger);
        let alarms: Vec<NightAlarm> = on
            .alarms
            .iter()
            .rev()
            .map(|alarm| NightAlarm {
                level: alarm.level,
                text: alarm.text.clone(),
                at_ms: alarm.at_ms,
                seen_by: alarm
                    .seen
                    .as_ref()
                    .map(|(by, _)| ledger.name_of(by).to_owned()),
                seen_after_s: alarm
                    .seen
                    .as_ref()
                    .map(|(_, at)| (at - alarm.at_ms).max(0) / 1000),
            })
            .collect();
        (on.anchor_e7, alarms)
    };
    let (anchor, alarms) = fleet.with(own, read).await?;
    let desk = std::sync::Arc::clone(fleet.desk());
    let from_ms = desk.watch_ms(now_ms) - A_DAY_MS;
    let reading = tokio::task::spawn_blocking(move || desk.table(from_ms));
    // Minutes that cannot be read are none: the alarms are on record all the same.
    let table = reading.await.ok().and_then(Result::ok).unwrap_or_default();
    let anchor = anchor.map(|(lat, lon)| Position {
        latitude_deg: f64::from(lat) / 1e7,
        longitude_deg: f64::from(lon) / 1e7,
    });
    Ok(drawn(&table, anchor, alarms))
}

fn drawn(table: &str, anchor: Option<Position>, alarms: Vec<NightAlarm>) -> NightPage {
    let mut page = NightPage {
        alarms,
        half_m: 100.0,
        ..NightPage::default()
    };
    let mut middle = anchor;
    for line in table.lines().skip(1) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |at: usize| fields.get(at).and_then(|field| field.parse::<f64>().ok());
        let at_ms = fields.get(1).and_then(|field| field.parse().ok());
        let (Some(at_ms), Some(latitude_deg), Some(longitude_deg)) = (at_ms, number(2), number(3))
        else {
            continue;
        };
        let place = Position {
            latitude_deg,
            longitude_deg,
        };
        let from = *middle.get_or_insert(place);
        let east = (longitude_deg - from.longitude_deg + 540.0).rem_euclid(360.0) - 180.0;
        let spot = Spot {
            east: (east * DEGREE_M * from.latitude_deg.to_radians().cos()).round(),
            north: ((latitude_deg - from.latitude_deg) * DEGREE_M).round(),
        };
        let sign = if page.path.is_empty() { 'M' } else { 'L' };
        // Writing to text cannot fail.
        let _ = write!(page.path, "{sign}{:.0} {:.0}", spot.east, -spot.north);
        page.half_m = page.half_m.max((spot.length() * 1.1 / 25.0).ceil() * 25.0);
        let mut said = Vec::new();
        match (number(6), number(7)) {
            (Some(is), Some(may)) => said.push(format!("{is:.0} of {may:.0} m")),
            (Some(is), None) => said.push(format!("{is:.0} m")),
            _ => {}
        }
        said.extend(number(9).map(|wind| format!("wind {wind:.0} kn")));
        said.extend(number(11).map(|depth| format!("water {depth:.1} m")));
        let standing = fields.get(12).filter(|standing| !standing.is_empty());
        said.extend(standing.map(|standing| (*standing).to_owned()));
        page.minutes.push(NightMinute {
            at_ms,
            east_m: spot.east,
            north_m: spot.north,
            said: said.join(", "),
        });
    }
    page
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_lie_around_the_anchor_and_those_without_a_place_are_left_out() {
        let anchor = Position {
            latitude_deg: -43.5,
            longitude_deg: -20.0,
        };
        let table = "head\n\
            a,60000,-43.5010000,-20.0000000,1,0.0,111.0,160.0,110.0,12.3,20.0,,outside:2\n\
            b,120000,,,,,,,,,,,blind:2\n";
        let page = drawn(table, Some(anchor), Vec::new());
        assert_eq!(page.minutes.len(), 1);
        let minute = &page.minutes[0];
        // By hand: a thousandth of a degree of latitude is 111 m.
        assert_eq!((minute.east_m, minute.north_m), (0.0, -111.0));
        assert_eq!(minute.said, "111 of 160 m, wind 12 kn, outside:2");
        assert_eq!((page.path.as_str(), page.half_m), ("M0 111", 125.0));
    }
}
