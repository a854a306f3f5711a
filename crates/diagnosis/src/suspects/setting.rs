//! A cause at one severity, or two at one each: what all readings are compared with.

use super::component::Known;
use super::integral::Ground;
use super::patch::{Patch, Place};
use crate::likelihood::Sums;
use crate::model::{Field, Span};

/// A cause at one severity.
pub(crate) enum Setting<'g> {
    /// One fault or none, severity being spread evenly over `width` around `t` of the span; a share of the readings is
    /// disturbed from elsewhere.
    One {
        span: Span<'g>,
        t: f64,
        width: f64,
        elsewhere: f64,
    },
    /// Two faults.
    Two { patch: Patch<'g>, at: Place },
}

impl<'g> Setting<'g> {
    /// The sound circuit with a share of its readings disturbed.
    pub(crate) fn disturbed(span: Span<'g>, elsewhere: f64) -> Self {
        Self::One {
            span,
            t: 0.0,
            width: 0.0,
            elsewhere,
        }
    }

    pub(crate) fn expect(&self, ground: Ground<'g>, field: &mut Field) {
        match self {
            Self::One { span, t, width, .. } => ground.params.expect(ground.body, span, *t, *width, field),
            Self::Two { patch, at } => patch.expect(ground, at, field),
        }
    }

    pub(crate) fn order(&self, ground: Ground<'g>) -> &'g [usize] {
        match self {
            Self::One { span, .. } => ground.order_of(span),
            Self::Two { .. } => ground.order,
        }
    }

    pub(crate) fn elsewhere(&self) -> f64 {
        match self {
            Self::One { elsewhere, .. } => *elsewhere,
            Self::Two { .. } => 0.0,
        }
    }

    /// Chance that each reading is wrong, given those before it in the order of weighing.
    pub(crate) fn wrong(&self, ground: Ground<'g>) -> Vec<f64> {
        let (mut field, mut sums) = <(Field, Sums)>::default();
        self.expect(ground, &mut field);
        sums.weigh(
            ground.body,
            &field.expected,
            self.order(ground),
            self.elsewhere(),
            false,
        );
        sums.steps.iter().map(|step| step.wrong).collect()
    }

    /// What is known of the parameters.
    pub(crate) fn known(&self, ground: Ground<'g>, room: &mut (Field, Sums)) -> Known {
        self.expect(ground, &mut room.0);
        room.1.weigh(
            ground.body,
            &room.0.expected,
            self.order(ground),
            self.elsewhere(),
            true,
        );
        Known::of(ground, &room.0, &room.1)
    }
}
