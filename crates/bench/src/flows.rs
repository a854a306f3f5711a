//! What flows while a tool is in place: through every branch, in the tool and in what the set-up clipped in.

use circuit::{BranchId, Placed, PointId};
use network::{Element, ElementId, Solution, States};

use crate::attach::VOLTMETER_OHMS;
use crate::prediction::{Flows, Prediction};
use crate::read::{Case, WithTool};
use crate::test::Placement;

/// Both leads of a placement that has two.
pub(crate) fn leads(placement: &Placement) -> Option<(PointId, PointId)> {
    match *placement {
        Placement::Voltmeter { red, black }
        | Placement::Alternating { red, black, .. }
        | Placement::Ohmmeter { red, black }
        | Placement::DiodeTest { red, black }
        | Placement::Continuity { red, black }
        | Placement::Ammeter { red, black }
        | Placement::TestLight { tip: red, clip: black } => Some((red, black)),
        Placement::Clamp { .. } | Placement::Scan { .. } | Placement::Code { .. } => None,
    }
}

impl Case<'_> {
    /// The flows of one reading. `bare` are the states of the circuit without what the set-up clips in, where it clips in anything.
    pub(crate) fn flows(
        &self,
        placement: &Placement,
        prediction: &Prediction,
        with_tool: Option<&WithTool>,
        placed: &[(Placed, ElementId)],
        bare: Option<&States>,
    ) -> Flows {
        let layout = self.shop.layout;
        let solution = with_tool.map_or(&self.base, |tool| &tool.solution);
        let point_volts = layout.point_volts(&solution.node_volts);
        let across = |a: PointId, b: PointId| point_volts[a.idx()] - point_volts[b.idx()];
        let (tool_amps, tool_watts, volts_before) = leads(placement).map_or((0.0, 0.0, 0.0), |(red, black)| {
            let amps = match with_tool {
                Some(tool) => self.tool_amps(tool, red),
                None => prediction.value / VOLTMETER_OHMS,
            };
            (
                amps,
                (amps * across(red, black)).abs(),
                self.volts(red) - self.volts(black),
            )
        });
        let placed = placed
            .iter()
            .map(|(thing, element)| {
                let (a, b) = thing.ends();
                let amps = solution.amps(*element);
                (amps, (amps * across(a, b)).abs())
            })
            .collect();
        Flows {
            branch_amps: solution.element_amps[..layout.n_branches()].to_vec(),
            point_volts,
            tool_amps,
            tool_watts,
            volts_before,
            placed,
            trips: self.trips(solution, bare),
        }
    }

    /// From red through the tool to black.
    fn tool_amps(&self, tool: &WithTool, red: PointId) -> f64 {
        let amps = tool.solution.amps(tool.element);
        // The place between a point and battery negative counts from the point: with black there, it is reversed.
        let reversed = tool.element.0 < (self.shop.layout.n_branches() + self.shop.layout.n_points()) as u32
            && red == self.shop.circuit.battery_minus;
        if reversed { -amps } else { amps }
    }

    /// Fuses and drivers that act in `solution` and not without the tool and what is clipped in.
    fn trips(&self, solution: &Solution, bare: Option<&States>) -> Vec<BranchId> {
        let without = bare.unwrap_or(&self.base.states);
        (0..self.shop.layout.n_branches() as u32)
            .filter(|&at| {
                let id = ElementId(at);
                let acts = matches!(
                    self.lowered.element(id),
                    Some(Element::Fuse { .. } | Element::Driver { .. })
                );
                acts && solution.states.get(id) == Some(true) && without.get(id) != Some(true)
            })
            .map(BranchId)
            .collect()
    }
}
