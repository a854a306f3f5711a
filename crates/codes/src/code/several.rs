//! Several codes in one line, as people type them: `P0335 p0122-13, 01 22`.

use super::{CodeError, Typed, read};

/// Each code of a line, in order, with the text that it was read from. A code that comes twice is told once.
pub fn read_several(text: &str) -> Vec<(String, Result<Typed, CodeError>)> {
    let mut found: Vec<(String, Result<Typed, CodeError>)> = Vec::new();
    for (piece, typed) in read_each(text) {
        let same =
            |other: &Result<Typed, CodeError>| matches!((other, &typed), (Ok(one), Ok(other)) if one.says_as(other));
        if !found.iter().any(|(_, other)| same(other)) {
            found.push((piece, typed));
        }
    }
    found
}

/// The same, each as often as it comes.
pub(super) fn read_each(text: &str) -> impl Iterator<Item = (String, Result<Typed, CodeError>)> {
    pieces(text).into_iter().map(|piece| {
        let typed = read(&piece);
        (piece, typed)
    })
}

/// Bytes that stand apart belong together: two are a code, three a code with its failure type, one alone is the failure type of
/// the code before it.
fn pieces(text: &str) -> Vec<String> {
    let words: Vec<&str> = text
        .split(|mark: char| mark.is_whitespace() || matches!(mark, ',' | ';'))
        .filter(|word| !word.is_empty())
        .collect();
    let is_byte = |word: &str| word.len() == 2 && word.chars().all(|one| one.is_ascii_hexdigit());
    let mut pieces: Vec<String> = Vec::new();
    for run in words.chunk_by(|one, next| is_byte(one) && is_byte(next)) {
        match (run, pieces.last_mut()) {
            ([failure], Some(code)) if is_byte(failure) => *code = format!("{code} {failure}"),
            ([_, _, _], _) => pieces.push(run.join(" ")),
            _ => pieces.extend(run.chunks(2).map(|pair| pair.join(" "))),
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn codes(text: &str) -> Vec<String> {
        let told =
            |typed: Result<Typed, CodeError>| typed.map_or_else(|_| "?".to_owned(), |typed| typed.code.to_string());
        read_several(text).into_iter().map(|(_, typed)| told(typed)).collect()
    }

    #[test]
    fn codes_stand_apart_by_blanks_commas_and_lines() {
        assert_eq!(
            codes("P0335 p0122,U0100;\n c0035-11"),
            ["P0335", "P0122", "U0100", "C0035"]
        );
        assert_eq!(codes("P0335 P0335 p0335 03 35"), ["P0335"]);
        assert!(codes(" , ").is_empty());
    }

    #[test]
    fn bytes_apart_are_one_code() {
        assert_eq!(codes("01 22 03 35"), ["P0122", "P0335"]);
        assert_eq!(codes("01 22 13"), ["P0122"]);
        let with_type = &read_several("P0122 13 P0335")[0];
        assert_eq!(with_type.0, "P0122 13");
        assert!(with_type.1.as_ref().is_ok_and(|typed| typed.failure_type.is_some()));
    }

    #[test]
    fn what_is_no_code_stays_in_its_place_and_says_why() {
        let read = read_several("P0335 P01Z2 P0122");
        assert_eq!(codes("P0335 P01Z2 P0122"), ["P0335", "?", "P0122"]);
        assert!(read[1].1.as_ref().is_err_and(|why| why.to_string().contains('Z')));
    }
}
