//! The watch's minutes as they are kept: a line of a table for each, a file for each day, for so many days.

use chrono::DateTime;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// How many days are kept.
/// Source: our own, common practice, no source: a season at anchor; some 150 kB a day.
pub const DAYS_KEPT: usize = 92;
/// The head of the table.
pub const HEAD: &str = "time,unix_ms,latitude_deg,longitude_deg,is_hawse,heading_deg,distance_m,allowed_m,cable_m,wind_kn,gust_of_hour_kn,depth_m,alarms\n";

/// One minute.
#[derive(Debug, Clone, Default)]
pub struct Minute {
    /// When, ms UTC.
    pub at_ms: i64,
    /// Degrees north and east.
    pub place: Option<(f64, f64)>,
    /// The place is the hawse's.
    pub is_hawse: bool,
    /// Heading, distance, allowed, cable, wind, gust, depth.
    pub figures: [Option<f64>; 7],
    /// What stands, with its level.
    pub alarms: String,
}

fn day(at_ms: i64) -> String {
    DateTime::from_timestamp_millis(at_ms)
        .map_or_else(String::new, |at| at.format("%Y-%m-%d").to_string())
}

impl Minute {
    /// Returns the line.
    pub fn line(&self) -> String {
        let time = DateTime::from_timestamp_millis(self.at_ms);
        let mut line = time.map_or_else(String::new, |at| {
            at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
        });
        // Writing to text cannot fail.
        let _ = write!(line, ",{}", self.at_ms);
        match self.place {
            Some((lat, lon)) => {
                let _ = write!(line, ",{lat:.7},{lon:.7},{}", u8::from(self.is_hawse));
            }
            None => line.push_str(",,,"),
        }
        for figure in self.figures {
            match figure {
                Some(figure) => {
                    let _ = write!(line, ",{figure:.1}");
                }
                None => line.push(','),
            }
        }
        let _ = writeln!(line, ",{}", self.alarms);
        line
    }
}

/// The folder of the minutes.
#[derive(Debug, Clone)]
pub struct Series(PathBuf);

impl Series {
    /// Makes one in a folder of the server's data.
    pub fn in_folder(data: &Path) -> Self {
        Self(data.join("watch"))
    }

    /// Adds a minute; with the first of a day the oldest days go.
    ///
    /// # Errors
    /// What the system says.
    pub fn add(&self, minute: &Minute) -> std::io::Result<()> {
        std::fs::create_dir_all(&self.0)?;
        let path = self.0.join(format!("{}.csv", day(minute.at_ms)));
        let is_new = !path.exists();
        let mut file = std::fs::File::options()
            .create(true)
            .append(true)
            .open(&path)?;
        file.write_all(minute.line().as_bytes())?;
        if is_new {
            let days = self.days()?;
            for old in days.iter().take(days.len().saturating_sub(DAYS_KEPT)) {
                std::fs::remove_file(old)?;
            }
        }
        Ok(())
    }

    fn days(&self) -> std::io::Result<Vec<PathBuf>> {
        let mut days = Vec::new();
        for entry in std::fs::read_dir(&self.0)? {
            let path = entry?.path();
            if path.extension().is_some_and(|extension| extension == "csv") {
                days.push(path);
            }
        }
        days.sort();
        Ok(days)
    }

    /// Returns the table of the minutes from a moment on.
    ///
    /// # Errors
    /// What the system says.
    pub fn table(&self, from_ms: i64) -> std::io::Result<String> {
        let mut table = HEAD.to_owned();
        if !self.0.exists() {
            return Ok(table);
        }
        let first = format!("{}.csv", day(from_ms));
        for path in self.days()? {
            if path.file_name().is_some_and(|name| name < first.as_str()) {
                continue;
            }
            for line in std::fs::read_to_string(path)?.lines() {
                let at = line.split(',').nth(1).and_then(|ms| ms.parse::<i64>().ok());
                // A line that a power cut has cut is left out.
                if at.is_some_and(|at| at >= from_ms) && line.matches(',').count() == 12 {
                    table.push_str(line);
                    table.push('\n');
                }
            }
        }
        Ok(table)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400_000;

    #[test]
    fn minutes_are_kept_by_the_day_and_old_days_go() {
        let folder = tempfile::tempdir().unwrap();
        let series = Series::in_folder(folder.path());
        for day in 0..100 {
            let minute = Minute {
                at_ms: 1_795_000_000_000 + day * DAY,
                place: Some((-43.5, -20.25)),
                is_hawse: true,
                figures: [Some(271.0), None, None, None, Some(12.34), None, Some(9.0)],
                alarms: String::new(),
            };
            series.add(&minute).unwrap();
        }
        assert_eq!(series.days().unwrap().len(), DAYS_KEPT);
        let table = series.table(1_795_000_000_000 + 98 * DAY).unwrap();
        assert_eq!(table.lines().count(), 3, "{table}");
        let line = table.lines().nth(1).unwrap();
        assert!(
            line.ends_with(",-43.5000000,-20.2500000,1,271.0,,,,12.3,,9.0,"),
            "{line}"
        );
        assert_eq!(HEAD.matches(',').count(), line.matches(',').count());
    }
}
