//! Walks over a text and takes numbers and suffixes off it. Knows spellings, not meaning.

use crate::spelling::Scale;
use crate::{ParseError, Unit};
use std::ops::Range;

/// A place in a text, and the end of the part that is being read. Both always lie on character boundaries.
#[derive(Clone, Debug)]
pub(crate) struct Cursor<'a> {
    text: &'a str,
    pos: usize,
    end: usize,
}

/// A decimal number as written, not yet rounded to binary.
#[derive(Clone, Debug)]
pub(crate) struct Number {
    pub(crate) negative: bool,
    whole: String,
    fraction: String,
    exponent: i32,
    /// Prefix or unit that stood in place of the decimal point, as in `4k7`.
    pub(crate) infix: Option<char>,
    pub(crate) at: Range<usize>,
}

impl Number {
    /// The number in the base of its unit, rounded once when only powers of ten are involved. Infinite if too large.
    pub(crate) fn value(&self, scale: Scale) -> f64 {
        let sign = if self.negative { "-" } else { "" };
        let exponent = self.exponent.saturating_add(scale.exponent);
        let decimal: f64 = format!("{sign}{}.{}e{exponent}", self.whole, self.fraction)
            .parse()
            .unwrap_or(f64::NAN);
        let value = decimal * scale.factor + scale.offset;
        if value == 0.0 { 0.0 } else { value } // never minus zero
    }

    /// The worth of one step of the last digit written.
    pub(crate) fn resolution(&self, scale: Scale) -> f64 {
        let exponent = self
            .exponent
            .saturating_add(scale.exponent)
            .saturating_sub(i32::try_from(self.fraction.len()).unwrap_or(i32::MAX));
        format!("1e{exponent}").parse().unwrap_or(f64::NAN) * scale.factor
    }
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self {
            text,
            pos: 0,
            end: text.len(),
        }
    }

    /// The part of the same text from `range`, which must lie on character boundaries.
    pub(crate) fn part(&self, range: Range<usize>) -> Self {
        Self {
            text: self.text,
            pos: range.start,
            end: range.end,
        }
    }

    pub(crate) fn rest(&self) -> &'a str {
        self.text.get(self.pos..self.end).unwrap_or_default()
    }

    pub(crate) fn slice(&self, range: Range<usize>) -> String {
        self.text.get(range).unwrap_or_default().to_owned()
    }

    pub(crate) fn pos(&self) -> usize {
        self.pos
    }

    /// Everything left, without white space at its end.
    pub(crate) fn remainder(&self) -> Range<usize> {
        self.pos..self.pos + self.rest().trim_end().len()
    }

    /// Skips white space; says whether there was any.
    pub(crate) fn skip_space(&mut self) -> bool {
        let before = self.pos;
        self.pos += self.rest().len() - self.rest().trim_start().len();
        self.pos > before
    }

    /// Takes the first of `tokens` that comes next.
    pub(crate) fn eat(&mut self, tokens: &[&str]) -> bool {
        let found = tokens.iter().find(|token| self.rest().starts_with(**token));
        self.pos += found.map_or(0, |token| token.len());
        found.is_some()
    }

    /// Takes the word that comes next if it is `word` in either case and no letter follows.
    pub(crate) fn eat_word(&mut self, word: &str) -> bool {
        let rest = self.rest();
        let same = rest
            .get(..word.len())
            .is_some_and(|head| head.eq_ignore_ascii_case(word));
        let ends = !rest
            .get(word.len()..)
            .is_some_and(|tail| tail.starts_with(char::is_alphabetic));
        if same && ends {
            self.pos += word.len();
        }
        same && ends
    }

    /// Takes the longest run of characters that `accept` likes; its bytes in the text.
    fn take_while(&mut self, accept: impl Fn(char) -> bool) -> Range<usize> {
        let rest = self.rest();
        let start = self.pos;
        self.pos += rest.find(|c| !accept(c)).unwrap_or(rest.len());
        start..self.pos
    }

    /// Takes a number: sign, digits with a decimal point, comma, or letter between them, power of ten.
    pub(crate) fn number(&mut self, expected: Unit) -> Result<Number, ParseError> {
        let start = self.pos;
        if self.rest().trim().is_empty() {
            return Err(ParseError::Empty {
                at: start..start,
                expected,
            });
        }
        let negative = self.eat(&["-", "\u{2212}"]);
        if !negative {
            self.eat(&["+"]);
        }
        let run = self.digit_run();
        let written = self.slice(run.clone());
        let separators = written.chars().filter(|c| !c.is_ascii_digit()).count();
        if separators == written.chars().count() && !self.rest().starts_with(['R', 'r']) {
            self.pos = start;
            let at = self.remainder();
            return Err(ParseError::NotANumber {
                found: self.slice(at.clone()),
                at,
                expected,
            });
        }
        let grouped_by_space = separators == 0 && self.group_of_three_follows();
        if separators > 1 || written.contains(['\'', '’', '_']) || grouped_by_space {
            let at = if grouped_by_space {
                run.start..self.remainder().end
            } else {
                run
            };
            return Err(ParseError::Grouped {
                found: self.slice(at.clone()),
                at,
            });
        }
        let mut number = Number {
            negative,
            whole: written.clone(),
            fraction: String::new(),
            exponent: 0,
            infix: None,
            at: start..self.pos,
        };
        if let Some((whole, fraction)) = written.split_once(['.', ',']) {
            if written.contains(',') && fraction.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
            {
                let with_point = format!("{whole}.{fraction}");
                let joined = format!("{whole}{fraction}");
                return Err(ParseError::AmbiguousComma {
                    at: run,
                    found: written,
                    with_point,
                    joined,
                });
            }
            whole.clone_into(&mut number.whole);
            fraction.clone_into(&mut number.fraction);
        } else {
            self.infix(&mut number);
        }
        if number.whole.is_empty() && number.fraction.is_empty() {
            self.pos = start;
            let at = self.remainder();
            return Err(ParseError::NotANumber {
                found: self.slice(at.clone()),
                at,
                expected,
            });
        }
        if number.whole.is_empty() {
            "0".clone_into(&mut number.whole);
        }
        if number.infix.is_none() {
            self.power_of_ten(&mut number);
        }
        number.at = start..self.pos;
        Ok(number)
    }

    /// Digits and what may stand between them. Two points in a row belong to a range.
    fn digit_run(&mut self) -> Range<usize> {
        let start = self.pos;
        let run = self.take_while(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '\'' | '’' | '_'));
        if let Some(dots) = self.text.get(run.clone()).and_then(|run| run.find("..")) {
            self.pos = start + dots;
        } else if let Some(mark) = self.slice(run).chars().last().filter(|last| matches!(last, '\'' | '’')) {
            self.pos -= mark.len_utf8(); // the sign for feet
        }
        start..self.pos
    }

    /// `4 700`: a space and exactly three digits, which no percent sign follows.
    fn group_of_three_follows(&self) -> bool {
        let mut ahead = self.clone();
        if !ahead.skip_space() {
            return false;
        }
        let digits = ahead.take_while(|c| c.is_ascii_digit());
        ahead.skip_space();
        digits.len() == 3 && !ahead.rest().starts_with('%')
    }

    /// `4k7`, `2R2`, `R47`, `3V3`: a letter instead of the decimal point, as in IEC 60062.
    fn infix(&mut self, number: &mut Number) {
        let mut letters = self.rest().chars();
        let (Some(letter), Some(next)) = (letters.next(), letters.next()) else {
            return;
        };
        let power_of_ten = matches!(letter, 'e' | 'E');
        if !letter.is_alphabetic() || power_of_ten || !next.is_ascii_digit() {
            return;
        }
        self.pos += letter.len_utf8();
        let fraction = self.take_while(|c| c.is_ascii_digit());
        number.fraction = self.slice(fraction);
        number.infix = Some(letter);
    }

    fn power_of_ten(&mut self, number: &mut Number) {
        let mut ahead = self.clone();
        if !ahead.eat(&["e", "E"]) {
            return;
        }
        let negative = ahead.eat(&["-", "\u{2212}"]);
        if !negative {
            ahead.eat(&["+"]);
        }
        let digits = ahead.take_while(|c| c.is_ascii_digit());
        if digits.is_empty() {
            return;
        }
        // Far beyond what a double can hold is enough: the value then comes out infinite or zero.
        let size = self.slice(digits).parse().unwrap_or(1_000_000).min(1_000_000);
        number.exponent = if negative { -size } else { size };
        *self = ahead;
    }

    /// Takes the size of a wire gauge, `18` or `2/0`; may be empty.
    pub(crate) fn take_gauge_size(&mut self) -> Range<usize> {
        self.take_while(|c| c.is_ascii_digit() || c == '/')
    }

    /// Takes a unit with or without a prefix, after white space; may be empty.
    pub(crate) fn suffix(&mut self) -> Range<usize> {
        let mut ahead = self.clone();
        ahead.skip_space();
        let mut run = ahead.take_while(|c| c.is_alphabetic() || "°℃℉%²'’\"”€$£".contains(c));
        if ahead.slice(run.clone()) == "mm" && ahead.eat(&["^2", "2"]) {
            run.end = ahead.pos;
        }
        if run.is_empty() {
            return self.pos..self.pos;
        }
        self.pos = run.end;
        run
    }
}
