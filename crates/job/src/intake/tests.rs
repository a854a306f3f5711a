use super::*;

fn all() -> Vec<Archetype> {
    Archetype::built_in().expect("built in")
}

fn named<'a>(all: &'a [Archetype], name: &str) -> &'a Archetype {
    all.iter().find(|one| one.name == name).expect("known")
}

fn codes(text: &str) -> Vec<TroubleCode> {
    codes_of(&read_found(text))
}

fn monitors(text: &str) -> Vec<String> {
    let circuit = circuit::parse(text).expect("a circuit");
    circuit.monitors.into_iter().map(|check| check.code).collect()
}

#[test]
fn each_code_brings_its_own_circuits() {
    let all = all();
    let offers = offers(&all, &["P0335".to_owned(), "P0122".to_owned()]);
    let because = |name: &str| {
        let offer = offers.iter().find(|offer| offer.archetype.name == name);
        offer.map(|offer| offer.because.clone()).unwrap_or_default()
    };
    assert_eq!(because("pick-up-coil"), ["P0335 (crankshaft position A)"]);
    assert_eq!(because("position-track"), ["P0122 (throttle or pedal position A)"]);
    assert!(because("thermistor").is_empty());
}

#[test]
fn a_low_code_takes_the_place_of_the_low_check_of_its_kind() {
    let all = all();
    let sensor = named(&all, "pressure-three-wire");
    let changed = made(&[sensor], &codes("P0532")).expect("one circuit");
    assert_eq!(monitors(&changed.archetype.text), ["P0532", "P0108"]);
    assert_eq!(
        changed.told,
        ["P0532 is taken to be set at the voltage at which P0107 usually is"]
    );
    // A check that is there itself stays, as does one that was typed as well.
    let as_it_is = made(&[sensor], &codes("P0107")).expect("one circuit");
    assert_eq!(
        (monitors(&as_it_is.archetype.text), as_it_is.told.len()),
        (monitors(&sensor.text), 0)
    );
    let both = made(&[sensor], &codes("P0107 P0532")).expect("one circuit");
    assert_eq!(monitors(&both.archetype.text), ["P0107", "P0108"]);
    // Of two channels the one whose words the code has.
    let pair = made(&[named(&all, "pressure-and-temperature")], &codes("P0098")).expect("one circuit");
    assert_eq!(monitors(&pair.archetype.text), ["P0237", "P0238", "P0112", "P0098"]);
    // A code of something else changes nothing.
    let other = made(&[sensor], &codes("P0117")).expect("one circuit");
    assert_eq!(monitors(&other.archetype.text), ["P0107", "P0108"]);
}

#[test]
fn a_code_of_another_driver_of_its_kind_takes_the_place_of_that_which_says_the_same() {
    let all = all();
    let injector = named(&all, "injector-low-side");
    let changed = made(&[injector], &codes("P0203 P0268")).expect("one circuit");
    assert_eq!(monitors(&changed.archetype.text), ["P0203", "P0261", "P0268"]);
    assert_eq!(changed.told[0], "P0203 is taken to be set by what P0201 usually is");
    // What an answer takes out is taken out under its new number as well.
    let pump = named(&all, "fuel-pump-relay").with_code("P0231", "P1231", "fuel pump secondary");
    let answers = [("sense".to_owned(), "no".to_owned())];
    let without = pump.fill(&answers).expect("the answer fits").archetype;
    assert_eq!(monitors(&without.text), ["P0230", "P0627", "P0628", "P0629"]);
}

#[test]
fn a_code_is_set_where_its_check_runs() {
    for (name, code, set_up) in [
        ("injector-low-side", "P0261", "key on"),
        ("injector-low-side", "P0262", "key running"),
        ("fan-relay", "P0692", "key on; fan commanded"),
    ] {
        let circuit = circuit::parse(&named(&all(), name).text).expect("a circuit");
        let monitor = circuit.monitors.iter().find(|one| one.code == code).expect("there");
        let runs = checks::runs(&circuit, monitor).expect("it runs somewhere");
        assert_eq!(runs.to_text(&circuit), set_up, "{code}");
    }
}

#[test]
fn a_code_keeps_its_state_and_when_it_was_seen() {
    let circuit = named(&all(), "position-track").text.clone();
    let new = NewJob {
        circuit: circuit.clone(),
        codes: "P0122 pending, P0123 history (81 200 km), P0335 history (last week)".into(),
        ..NewJob::default()
    };
    let circuit = circuit::parse(&circuit).expect("a circuit");
    let state = crate::derive(&circuit, &new.events("page", 7));
    let shown = |at: usize| (&state.readings[at].reading.shown, state.readings[at].seen.as_str());
    assert_eq!(shown(0), (&bench::Shown::Code(bench::CodeState::Pending), ""));
    assert_eq!(shown(1), (&bench::Shown::Code(bench::CodeState::History), "81 200 km"));
    let other = crate::Said::Code("P0335".into(), "history".into(), "last week".into());
    assert_eq!(state.remarks[0].said, other);
}

/// The checks of a circuit after codes were typed, as code and pin, and what was told.
fn with(text: &str, typed: &str) -> (Vec<(String, String)>, Vec<String>) {
    let (text, told) = with_checks(text, &codes(typed), &mut |text| circuit::parse(text).ok());
    let circuit = circuit::parse(&text).expect("a circuit");
    let pin = |one: &circuit::Monitor| circuit.watched(one).map_or(String::new(), |pin| pin.words.clone());
    let checks = circuit.monitors.iter().map(|one| (one.code.clone(), pin(one)));
    (checks.collect(), told)
}

#[test]
fn a_code_without_a_check_gets_one_where_just_one_pin_fits_and_is_else_told() {
    let without = |name: &str| {
        let text = named(&all(), name).text.clone();
        let (first, rest) = text.split_once("[[module").expect("checks");
        let rest = &rest[rest.find("[device").expect("devices")..];
        format!("{first}{rest}")
    };
    let throttle = without("position-track").replace("position signal", "throttle position");
    let (checks, told) = with(&throttle, "P0122 P0123");
    let at = |code: &str| (code.to_owned(), "throttle position".to_owned());
    assert_eq!(checks, [at("P0122"), at("P0123")]);
    assert_eq!(
        told[0],
        "This circuit has no check that sets P0122: it is taken to be set below 0.20 V at C1.5 (position); makers choose the limit"
    );
    let fan = without("fan-relay");
    let (checks, told) = with(&fan, "P0691 P0692 P0480");
    assert_eq!(checks.len(), 3, "{told:?}");
    assert!(checks.iter().all(|(_, pin)| pin == "fan relay control"), "{checks:?}");
    // What fits nothing, or says nothing of a voltage, is told with its reason.
    for (circuit, code, why) in [
        (&fan, "P0261", "no pin alone fits it"),
        (
            &throttle,
            "P0121",
            "the code names no voltage at a sensor's or driver's pin",
        ),
        (&throttle, "P1ABC", "the built-in table does not know the code"),
    ] {
        let (checks, told) = with(circuit, code);
        assert!(checks.is_empty());
        let line = format!("This circuit has no check that sets {code}, so it is not weighed: {why}");
        assert_eq!(told, [line]);
    }
    // Two pins of the same words: neither is chosen.
    let two = without("injectors-shared-feed");
    assert_eq!(with(&two, "P0264").0, [], "not known which");
    assert_eq!(
        with(&throttle.replace("throttle position", "position signal"), "P0122").0,
        []
    );
}

#[test]
fn a_circuit_of_the_library_fits_by_its_group_first() {
    let van = fit("delivery van", "throttle", "Delivery van 31", "").expect("fits");
    let car = fit("city car", "throttle position", "Delivery van 31", "throttle").expect("fits");
    assert!(van > car, "{van:?} {car:?}");
    assert_eq!(fit("city car", "wiper", "Delivery van 31", "throttle"), None);
    assert!(
        fit("city car", "wiper", "", "car wiper").is_some(),
        "a search names the vehicle too"
    );
}

#[test]
fn a_new_job_opens_with_its_codes_present() {
    let all = all();
    let circuit = named(&all, "knock-sensor").text.clone();
    let new = NewJob {
        title: "Van 31".into(),
        complaint: "pings".into(),
        vin: "1M8GDM9AXKP042788".into(),
        circuit: circuit.clone(),
        codes: "P0327 P0335-13 P03X".into(),
    };
    let events = new.events("page", 7);
    let circuit = circuit::parse(&circuit).expect("a circuit");
    let state = crate::derive(&circuit, &events);
    assert_eq!(state.troubles, [], "every event is understood");
    assert_eq!(
        (state.title.as_str(), state.vin.as_str()),
        ("Van 31", "1M8GDM9AXKP042788")
    );
    let reading = &state.readings[0].reading;
    assert_eq!(reading.test.placement.to_text(&circuit), "code P0327");
    let monitor = circuit
        .monitors
        .iter()
        .find(|check| check.code == "P0327")
        .expect("there");
    assert!(
        monitor.runs.holds_in(&circuit, &reading.test.set_up),
        "its check runs where it was read"
    );
    let said: Vec<&crate::Said> = state.remarks.iter().map(|remark| &remark.said).collect();
    assert_eq!(
        said[0],
        &crate::Said::Code("P0335-13".into(), "present".into(), String::new())
    );
    assert_eq!(said[1], &crate::Said::Note("typed as a trouble code: P03X".into()));
}
