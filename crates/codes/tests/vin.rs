//! Numbers of vehicles: published and computed examples, and laws.

use codes::vin::{ModelYear, Region, VinError, read};
use proptest::prelude::*;

/// 1M8GDM9AXKP042788 is the textbook example (sum 351, remainder 10); all ones a common test value; the third is used to teach
/// the check digit. Sums computed by hand from the weights of 49 CFR 565.15; the last two are the first with one slip.
#[test]
fn check_digits_of_examples() {
    for (text, sum, expected, holds) in [
        ("1M8GDM9AXKP042788", 351, 'X', true),
        ("11111111111111111", 89, '1', true),
        ("5GZCZ43D13S812715", 408, '1', true),
        ("1M8GDM9A1KP042788", 351, 'X', false),
        ("1M8GDM9AXKP042787", 349, '8', false),
    ] {
        let check = read(text).expect("a number").check();
        assert_eq!(
            (check.sum, check.expected, check.holds()),
            (sum, expected, holds),
            "{text}"
        );
    }
}

/// Letters and values as 49 CFR 565.15 lists them. All others are 0 and weigh 8 at position 1.
#[test]
fn every_letter_counts_as_listed() {
    let listed = "A1 B2 C3 D4 E5 F6 G7 H8 J1 K2 L3 M4 N5 P7 R9 S2 T3 U4 V5 W6 X7 Y8 Z9";
    for pair in listed.split(' ') {
        let (letter, value) = pair.split_at(1);
        let sum = read(&format!("{letter}0000000000000000"))
            .expect("a number")
            .check()
            .sum;
        assert_eq!(sum, 8 * value.parse::<u32>().expect("a digit"), "{pair}");
    }
}

#[test]
fn position_7_tells_the_two_cycles_apart() {
    let year = |text: &str| read(text).expect("a number").model_year();
    assert_eq!(
        year("1M8GDM9AXKP042788"),
        ModelYear::ByPosition7 {
            year: 1989,
            otherwise: 2019
        }
    );
    assert_eq!(
        year("5GZCZ43D13S812715"),
        ModelYear::ByPosition7 {
            year: 2003,
            otherwise: 2033
        }
    );
    assert_eq!(
        year("1M8GDMAAXKP042788"),
        ModelYear::ByPosition7 {
            year: 2019,
            otherwise: 1989
        }
    );
    for (code, old) in [
        ('A', 1980),
        ('H', 1987),
        ('J', 1988),
        ('N', 1992),
        ('P', 1993),
        ('R', 1994),
        ('T', 1996),
        ('V', 1997),
        ('Y', 2000),
        ('1', 2001),
        ('9', 2009),
    ] {
        let year = year(&format!("1M8GDM9AX{code}P042788"));
        assert_eq!(
            year,
            ModelYear::ByPosition7 {
                year: old,
                otherwise: old + 30
            },
            "{code}"
        );
    }
    for none in ['0', 'U', 'Z'] {
        assert_eq!(year(&format!("1M8GDM9AX{none}P042788")), ModelYear::None);
    }
}

#[test]
fn errors_say_which_character_and_what_to_look_for() {
    for (text, message) in [
        (
            "1M8GDM9AXKP04278",
            "16 characters are here, 17 are needed: look for one left out",
        ),
        (
            "1M8GDM9AXKP0427888",
            "18 characters are here, 17 are needed: look for one typed twice",
        ),
        (
            "1M8GDM9AXKP0427I8",
            "character 16 is `I`: I, O and Q are never used; look whether it is 1",
        ),
        (
            "1M8GDM9AXKPO42788",
            "character 12 is `O`: I, O and Q are never used; look whether it is 0",
        ),
        (
            "1M8GDM9AXKP04278é",
            "character 17 is `é`: only letters A to Z and digits are used",
        ),
    ] {
        assert_eq!(read(text).expect_err(text).to_string(), message);
    }
    assert_eq!(read(""), Err(VinError::Length { found: 0 }));
}

#[test]
fn maker_serial_and_region_are_cut_out() {
    let vin = read("1m8-gdm9axkp042788").expect("a number");
    assert_eq!(
        (vin.to_string().as_str(), vin.maker().as_str(), vin.serial().as_str()),
        ("1M8GDM9AXKP042788", "1M8", "042788")
    );
    assert_eq!(read("1M9GDM9AXKP042788").expect("a number").maker(), "1M9 042");
    for (first, region) in [
        ('A', Region::Africa),
        ('J', Region::Asia),
        ('W', Region::Europe),
        ('4', Region::NorthAmerica),
        ('6', Region::Oceania),
        ('9', Region::SouthAmerica),
        ('0', Region::Unassigned),
    ] {
        assert_eq!(
            read(&format!("{first}M8GDM9AXKP042788")).expect("a number").region(),
            region
        );
    }
}

#[test]
fn a_swapped_pair_is_found_again() {
    let typed = read("1M8GDM9AXKP024788").expect("a number");
    assert!(!typed.check().holds());
    let near: Vec<String> = typed.one_slip_away().iter().map(ToString::to_string).collect();
    assert!(near.contains(&"1M8GDM9AXKP042788".to_owned()), "{near:?}");
}

proptest! {
    /// Eleven is prime and every weight but that of position 9 is no multiple of it: one changed character that counts
    /// otherwise is always noticed.
    #[test]
    fn one_wrong_character_is_noticed(text in "[A-HJ-NPR-Z0-9]{17}", at in 0_usize..17, other in "[A-HJ-NPR-Z0-9]") {
        let right = read(&text).expect("a number");
        let sum = right.check().sum;
        let changed = format!("{}{other}{}", &text[..at], &text[at + 1..]);
        let check = read(&changed).expect("a number").check();
        let alone = |one: &str| read(&format!("{one}0000000000000000")).expect("a number").check().sum;
        if at != 8 && alone(&text[at..=at]) % 11 != alone(&other) % 11 {
            prop_assert_ne!(check.expected, char::from_digit(sum % 11, 10).unwrap_or('X'));
        }
    }

    #[test]
    fn no_text_panics_and_every_number_prints_as_itself(text in "\\PC{0,20}|[A-Z0-9]{17}") {
        if let Ok(vin) = read(&text) {
            prop_assert_eq!(read(&vin.to_string()), Ok(vin));
            let _ = (vin.model_year(), vin.one_slip_away());
        }
    }
}
