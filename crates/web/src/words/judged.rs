//! What is said of an intended test: may it be done, what it could hurt, whether it can tell anything.

use bench::Placement;
use circuit::{Access, Circuit, Fault, PointId};
use diagnosis::{Because, Danger, DangerKind, Under, Verdict, Worth};
use quantity::Unit;

use super::{capital, expected, percent, point};

/// Suspects named one by one where they would show something else than all others.
const NAMED_OTHERWISE: usize = 2;

/// The headline of a verdict; empty where there is nothing to say.
pub fn headline(verdict: &Verdict, dangers: &[Danger]) -> String {
    let spoils = |danger: &Danger| matches!(danger.what, DangerKind::LiveOhms { harms: false, .. });
    let live = |danger: &Danger| matches!(danger.what, DangerKind::LiveOhms { .. });
    let acts = |danger: &Danger| matches!(danger.what, DangerKind::Acts { .. });
    let all = |is: fn(&Danger) -> bool| !dangers.is_empty() && dangers.iter().all(is);
    match verdict {
        Verdict::Safe => String::new(),
        Verdict::First(_) if dangers.iter().all(|danger| spoils(danger) || acts(danger)) => {
            "Measure the voltage first: it would hurt nothing, but voltage there makes a figure of ohms worthless."
                .into()
        }
        Verdict::First(_) if dangers.iter().all(|danger| live(danger) || acts(danger)) => {
            "Measure the voltage first: on a live circuit the figure is worthless, and the meter may come to harm."
                .into()
        }
        Verdict::First(_) => "Not yet: something still possible would make this harmful.".into(),
        Verdict::Refused if all(|danger| matches!(danger.what, DangerKind::LiveOhms { harms: false, .. })) => {
            "Not worth doing: there is voltage there. It hurts nothing, but the figure would be worthless.".into()
        }
        Verdict::Refused if dangers.iter().any(live) => {
            "Do not: the circuit is live there, the figure would be worthless.".into()
        }
        Verdict::Refused => "Do not do this.".into(),
    }
}

/// A figure behind a verdict, in a sentence.
pub fn danger(circuit: &Circuit, faults: &[Fault], danger: &Danger) -> String {
    let part = |branch: circuit::BranchId| circuit.parts[circuit.branches[branch.idx()].part.idx()].called();
    let what = match &danger.what {
        DangerKind::Overload { branch, amps, rating } => format!(
            "{} through {} ({}), which bears {}",
            quantity::format(*amps, Unit::Ampere),
            part(*branch),
            circuit.branches[branch.idx()].path,
            quantity::format(*rating, Unit::Ampere)
        ),
        DangerKind::OverVoltage {
            point: at,
            volts,
            rating,
        } => format!(
            "{} on {}, which bears {}",
            quantity::format(*volts, Unit::Volt),
            point(circuit, *at),
            quantity::format(*rating, Unit::Volt)
        ),
        DangerKind::Tool {
            tool,
            watts,
            amps,
            rating,
        } => {
            let watts = watts.map(|watts| format!(" and {}", quantity::format(watts, Unit::Watt)));
            format!(
                "{}{} in the {tool}, which bears {}",
                quantity::format(*amps, Unit::Ampere),
                watts.unwrap_or_default(),
                quantity::format(*rating, Unit::Ampere)
            )
        }
        DangerKind::ToolFuse { tool, rating } => format!(
            "the {tool}'s fuse of {} would blow",
            quantity::format(*rating, Unit::Ampere)
        ),
        DangerKind::LiveOhms { volts, harms } => {
            let harm = if *harms {
                "it may come to harm, and its figure would mean nothing"
            } else {
                "it would not come to harm, but its figure would mean nothing"
            };
            format!(
                "the meter would sit on {}: {harm}",
                quantity::format(*volts, Unit::Volt)
            )
        }
        DangerKind::Trips { branch } => format!("the {} would blow or shut off", part(*branch)),
        DangerKind::Acts { words } => words.clone(),
    };
    let under = match &danger.under {
        Under::Healthy => String::new(),
        _ if danger.anyway => ", whatever is wrong (the worst figure; a sound circuit is past that already)".into(),
        Under::Suspect(fault) => {
            let fault = &faults[fault.idx()];
            format!(", if it is this: {}, {}", fault.what, fault.place)
        }
        Under::ShortToFeed(at) => format!(", if a feed has got to {}", point(circuit, *at)),
    };
    capital(&format!("{what}{under}."))
}

/// Whether a test can tell anything, in a sentence or two.
pub fn worth(circuit: &Circuit, faults: &[Fault], placement: &Placement, worth: &Worth) -> String {
    match worth {
        Worth::Tells { bits, .. } if *bits >= 0.5 => "Tells a lot about what is left.".into(),
        Worth::Tells { bits, .. } if *bits >= 0.1 => "Tells something about what is left.".into(),
        Worth::Tells { .. } => "Tells next to nothing about what is left.".into(),
        Worth::Unreachable(points) => {
            let blocked = points.iter().map(|&at| blocked(circuit, at));
            format!("Cannot be done as it stands. {}", blocked.collect::<Vec<_>>().join(" "))
        }
        Worth::Nothing {
            shows,
            because,
            otherwise,
        } => {
            let because = because_words(because);
            let shows = expected(circuit, placement, shows);
            if otherwise.is_empty() {
                return format!("Tells nothing: {shows} whichever suspect it is, because {because}.");
            }
            let named = otherwise.iter().take(NAMED_OTHERWISE).map(|one| {
                let fault = &faults[one.fault.idx()];
                let place = fault
                    .place
                    .split_once(';')
                    .map_or(fault.place.as_str(), |place| place.0);
                format!(
                    "{} if it is this: {}, {place} ({})",
                    expected(circuit, placement, &one.shows),
                    fault.what,
                    rare(one.chance)
                )
            });
            let more = match otherwise.len().saturating_sub(NAMED_OTHERWISE) {
                0 => String::new(),
                1 => "; and 1 more that would differ".into(),
                n => format!("; and {n} more that would differ"),
            };
            format!(
                "Tells next to nothing: {shows} in a sound circuit and with nearly every suspect, because {because}. \
                 Only some that are hardly likely would show otherwise: {}{more}.",
                named.collect::<Vec<_>>().join("; ")
            )
        }
    }
}

/// Why a point cannot be probed, and what to do.
pub fn blocked(circuit: &Circuit, at: PointId) -> String {
    let place = &circuit.points[at.idx()];
    match place.access {
        Access::WireSide(connector) | Access::PinSide(connector) => {
            let name = circuit.parts[circuit.connectors[connector.idx()].part.idx()].called();
            format!(
                "Part the {name} first: no probe gets to {} while it is together.",
                place.words
            )
        }
        Access::Inside => format!("No probe gets to {}.", place.words),
        Access::Open { .. } => String::new(),
    }
}

/// A small chance: "0.3 %", "under 0.1 %".
fn rare(chance: f64) -> String {
    match 100.0 * chance {
        share if share < 0.1 => "under 0.1 %".into(),
        share if share < 1.0 => format!("{share:.1} %"),
        _ => percent(chance),
    }
}

fn because_words(because: &Because) -> &'static str {
    match because {
        Because::NothingDrives => "nothing feeds this point as it stands, so it goes along with the other lead",
        Because::LoadedDown => "what drives this point is too weak for a light, which pulls it down",
        Because::TooLittle => "the voltage that stands there is too little for a light",
        Because::Clamped => "the module shows the end of its range whatever the wire carries",
        Because::NoCurrent => "both leads are on one net with no current in it",
        Because::Live => "the circuit is live there",
        Because::NotPowered => "the module has no power as it stands",
        Because::OutOfReach => "what they would change does not reach what it sees",
    }
}

#[cfg(test)]
mod tests {
    use circuit::FaultId;

    use super::*;

    fn said(what: DangerKind) -> String {
        let circuit = circuit::parse(include_str!("../../../../circuits/van-31.toml")).unwrap();
        let danger = Danger {
            what,
            under: Under::Healthy,
            chance: 1.0,
            anyway: true,
        };
        super::danger(&circuit, &[], &danger)
    }

    #[test]
    fn a_jumper_has_no_watts_and_its_fuse_is_called_so() {
        let tool = |tool, watts| DangerKind::Tool {
            tool,
            watts,
            amps: 95.4,
            rating: 10.0,
        };
        assert_eq!(said(tool("jumper", None)), "95.4 A in the jumper, which bears 10.0 A.");
        assert_eq!(
            said(tool("bulb", Some(40.0))),
            "95.4 A and 40.0 W in the bulb, which bears 10.0 A."
        );
        let blows = DangerKind::ToolFuse {
            tool: "jumper",
            rating: 3.0,
        };
        assert_eq!(said(blows), "The jumper's fuse of 3.00 A would blow.");
    }

    #[test]
    fn what_only_spoils_a_figure_is_not_called_harm() {
        let dangers = |harms| {
            [Danger {
                what: DangerKind::LiveOhms { volts: 0.041, harms },
                under: Under::Suspect(FaultId(0)),
                chance: 0.01,
                anyway: false,
            }]
        };
        let first = Verdict::First(Vec::new());
        assert!(headline(&first, &dangers(false)).contains("would hurt nothing"));
        assert!(headline(&first, &dangers(true)).contains("may come to harm"));
        assert!(headline(&Verdict::Refused, &dangers(false)).contains("hurts nothing"));
        assert!(headline(&Verdict::Refused, &dangers(true)).starts_with("Do not"));
    }
}
