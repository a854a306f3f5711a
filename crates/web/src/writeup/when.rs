//! Days and times as they are read, at a clock so many minutes east of Greenwich: nothing here knows where the shop is.

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
const MINUTE_MS: i64 = 60_000;
/// No clock on Earth is further from Greenwich.
const FURTHEST_MINUTES: i32 = 14 * 60;

/// A clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Clock {
    minutes_east: i32,
}

impl Clock {
    pub(super) fn new(minutes_east: i32) -> Self {
        Self {
            minutes_east: minutes_east.clamp(-FURTHEST_MINUTES, FURTHEST_MINUTES),
        }
    }

    fn local(self, at_ms: u64) -> u64 {
        at_ms.saturating_add_signed(i64::from(self.minutes_east) * MINUTE_MS)
    }

    /// "27 November 2026".
    pub(super) fn day(self, at_ms: u64) -> String {
        let day = job::library::day(self.local(at_ms));
        let pieces: Vec<&str> = day.split('-').collect();
        let month = |month: &str| MONTHS.get(month.parse::<usize>().ok()?.checked_sub(1)?).copied();
        match pieces.as_slice() {
            [year, number, day] => {
                let (day, month) = (day.trim_start_matches('0'), month(number).unwrap_or_default());
                format!("{day} {month} {year}")
            }
            _ => day,
        }
    }

    /// "14:05".
    pub(super) fn time(self, at_ms: u64) -> String {
        let minutes = self.local(at_ms) / 60_000 % (24 * 60);
        format!("{:02}:{:02}", minutes / 60, minutes % 60)
    }

    /// "UTC+01:00".
    pub(super) fn zone(self) -> String {
        let (sign, minutes) = (if self.minutes_east < 0 { '-' } else { '+' }, self.minutes_east.abs());
        match minutes {
            0 => "UTC".into(),
            _ => format!("UTC{sign}{:02}:{:02}", minutes / 60, minutes % 60),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_begins_where_the_clock_stands() {
        // 31 December 2026, 23:30 UTC.
        let at = 1_798_759_800_000;
        let told = |minutes_east| {
            let clock = Clock::new(minutes_east);
            (clock.day(at), clock.time(at), clock.zone())
        };
        let of = |day: &str, time: &str, zone: &str| (day.to_owned(), time.to_owned(), zone.to_owned());
        assert_eq!(told(0), of("31 December 2026", "23:30", "UTC"));
        assert_eq!(told(60), of("1 January 2027", "00:30", "UTC+01:00"));
        assert_eq!(told(-210), of("31 December 2026", "20:00", "UTC-03:30"));
        assert_eq!(Clock::new(i32::MAX).zone(), "UTC+14:00");
        assert_eq!(Clock::new(-60).day(0), "1 January 1970");
    }
}
