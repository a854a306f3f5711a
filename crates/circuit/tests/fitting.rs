//! Ready-made circuits while they are being answered: what fits is written in, the rest is told, and codes find the right ones.

use circuit::Archetype;
use circuit::archetype::{combine, find};

fn built_in(name: &str) -> Archetype {
    let all = Archetype::built_in().expect("built in");
    all.into_iter().find(|one| one.name == name).expect("known")
}

fn answers(list: &[(&str, &str)]) -> Vec<(String, String)> {
    list.iter()
        .map(|(id, answer)| ((*id).to_owned(), (*answer).to_owned()))
        .collect()
}

/// Question and reason of each answer that was left out.
fn left_out(of: &Archetype, list: &[(&str, &str)]) -> Vec<(Option<String>, String)> {
    let (_, left_out) = of.fill_what_fits(&answers(list));
    left_out.into_iter().map(|one| (one.question, one.why)).collect()
}

#[test]
fn answers_that_fit_are_written_in_beside_those_that_do_not() {
    let track = built_in("position-track");
    let list = [
        ("signal", "left"),
        ("reference", "12"),
        ("signal-colour", "mauve"),
        ("length", "3 m"),
        ("beside", "a cat"),
    ];
    let (changed, left_out) = track.fill_what_fits(&answers(&list));
    let blamed: Vec<_> = left_out.iter().filter_map(|one| one.question.as_deref()).collect();
    assert_eq!(blamed, ["signal", "signal-colour", "beside"], "{left_out:#?}");
    assert!(left_out[0].why.starts_with("the number of a cavity of C1 is expected"));
    assert!(left_out[1].why.contains("mauve"), "{:?}", left_out[1]);
    let text = &changed.archetype.text;
    assert!(
        text.contains("from = \"C1.12\"") && text.contains("length = \"3 m\""),
        "{text}"
    );
    let all_right = track
        .fill(&answers(&[("reference", "12"), ("length", "3 m")]))
        .expect("fits");
    assert_eq!(changed, all_right);
}

#[test]
fn one_place_for_two_is_told_in_the_words_of_the_question() {
    let left = left_out(&built_in("position-track"), &[("signal", "9"), ("reference", "9")]);
    let why = "C1.9 is taken: it is the answer to \"Module cavity of the signal\"";
    assert_eq!(left, [(Some("reference".to_owned()), why.to_owned())]);
}

#[test]
fn a_code_brings_only_circuits_that_serve_its_item() {
    let all = Archetype::built_in().expect("built in");
    let names = |words: &str| -> Vec<String> { find(&all, words).iter().map(|one| one.name.clone()).collect() };
    let crankshaft = names("crankshaft position A");
    assert!(crankshaft.contains(&"pick-up-coil".to_owned()), "{crankshaft:?}");
    assert!(!crankshaft.contains(&"position-track".to_owned()), "{crankshaft:?}");
    assert!(
        !names("position").is_empty(),
        "a part of a phrase finds something where no phrase is whole"
    );
}

#[test]
fn a_vehicle_and_another_code_are_put_into_the_text() {
    let sensor = built_in("pressure-three-wire").of_vehicle("Van 31 \"blue\"");
    let sensor = sensor.with_code("P0107", "P0532", "refrigerant pressure low");
    let circuit = circuit::parse(&sensor.text).expect("a circuit");
    assert_eq!(circuit.vehicle, "Van 31 \"blue\"");
    let codes: Vec<_> = circuit
        .monitors
        .iter()
        .map(|check| (check.code.as_str(), check.words.as_str()))
        .collect();
    assert_eq!(codes[0], ("P0532", "refrigerant pressure low"));
    assert_eq!(codes[1].0, "P0108");
    let two = combine(&[("a", &sensor.text), ("b", &built_in("thermistor").text)]).expect("one");
    assert!(two.archetype.of_vehicle("Van 7").text.contains("vehicle = \"Van 7\""));
}
