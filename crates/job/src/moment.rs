//! A moment as entries write it, `2026-03-02T14:05:09Z`, and as a clock counts it.
//!
//! Always UTC, to the second: an entry says when by the clock of its device, and two devices may stand in two zones.
//! It leaves to others: asking a clock.

use crate::entry::day_number;

/// Seconds of a day.
const DAY_S: i64 = 86_400;

/// The moment `seconds` after 1970-01-01 00:00 UTC as it is written; seconds before 1970 or after 2199 are taken as the nearest of those.
pub fn written(seconds: i64) -> String {
    let seconds = seconds.clamp(0, 84_006 * DAY_S - 1);
    let (year, month, date) = civil(seconds.div_euclid(DAY_S));
    let s = seconds.rem_euclid(DAY_S);
    format!("{year:04}-{month:02}-{date:02}T{:02}:{:02}:{:02}Z", s / 3600, s / 60 % 60, s % 60)
}

/// Seconds after 1970-01-01 00:00 UTC of a moment as [`written`] writes it; of a day alone its midnight. None when it is neither.
pub fn seconds(when: &str) -> Option<i64> {
    let day = day_number(when.get(..10)?)? * DAY_S;
    let rest = when.get(10..)?;
    if rest.is_empty() {
        return Some(day);
    }
    let shape = rest.len() == 10
        && rest.bytes().enumerate().all(|(i, byte)| match i {
            0 => byte == b'T',
            3 | 6 => byte == b':',
            9 => byte == b'Z',
            _ => byte.is_ascii_digit(),
        });
    let part = |range| rest.get(range).and_then(|part: &str| part.parse::<i64>().ok());
    let (h, m, s) = (part(1..3)?, part(4..6)?, part(7..9)?);
    (shape && h < 24 && m < 60 && s < 60).then_some(day + h * 3600 + m * 60 + s)
}

/// A span of time as a clock shows it: `0:42`, `12:05`, `3:04:10`; below nothing it is nothing.
pub fn clock(seconds: i64) -> String {
    let s = seconds.max(0);
    match s / 3600 {
        0 => format!("{}:{:02}", s / 60, s % 60),
        h => format!("{h}:{:02}:{:02}", s / 60 % 60, s % 60),
    }
}

/// Year, month and day of a count of days since 1970-01-01.
///
/// Source: the Gregorian calendar, counted from 1 March so that the leap day is a year's last (as [`day_number`], turned round).
fn civil(days: i64) -> (i64, i64, i64) {
    let days = days + 719_468;
    let era = days.div_euclid(146_097);
    let of_era = days.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * of_year + 2) / 153;
    let date = of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
    (400 * era + year_of_era + i64::from(month <= 2), month, date)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_written_and_read_back() {
        for (count, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_400 + 3_661, "2000-02-29T01:01:01Z"),
            (1_772_460_309, "2026-03-02T14:05:09Z"),
            (4_107_542_399, "2100-02-28T23:59:59Z"),
        ] {
            assert_eq!(written(count), text);
            assert_eq!(seconds(text), Some(count), "{text}");
        }
        assert_eq!(seconds("2026-03-02"), Some(20_514 * 86_400));
        for text in ["2026-03-02 14:05", "2026-02-30T00:00:00Z", "2026-03-02T24:00:00Z", "soon", ""] {
            assert_eq!(seconds(text), None, "{text}");
        }
    }

    #[test]
    fn every_day_of_the_calendar_is_read_back() {
        for day in (0..84_000).step_by(37) {
            assert_eq!(seconds(&written(day * 86_400)), Some(day * 86_400));
        }
        assert_eq!((written(-5), written(i64::MAX).get(..4)), ("1970-01-01T00:00:00Z".into(), Some("2199")));
    }
}
