//! A cylinder that runs empty.

use tidewright::quantity::{Flow, Seconds};
use tidewright::run::{Change, Protocol};

use super::moments;
use crate::format::{Cylinder, Scenario};

impl Scenario {
    /// When the cylinder of the file is empty, s; nothing without one or if it lasts.
    ///
    /// All oxygen of the fresh gas comes from it.
    ///
    /// ```
    /// use tidewright_scenario::{DEMO, parse};
    /// // 2 L at 0.3 bar are 0.592 L of gas: at 2.2 L/min 16 s.
    /// let gas = "gas: (cylinder: (inner_volume_l: 2, gauge_bar: 0.3)), timeline:";
    /// let scenario = parse("demo.ron", &DEMO.replace("timeline:", gas))?;
    /// assert!((scenario.cylinder_empty_at_s().unwrap() - 16.1).abs() < 0.1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn cylinder_empty_at_s(&self) -> Option<f64> {
        self.empties(self.cylinder()?, &self.protocol_with_faults())
    }

    fn cylinder(&self) -> Option<&Cylinder> {
        self.gas.as_ref()?.cylinder.as_ref()
    }

    /// When a protocol has used up what is in the cylinder.
    fn empties(&self, cylinder: &Cylinder, protocol: &Protocol) -> Option<f64> {
        let mut left_l = cylinder.contents_l();
        let moments = moments(self);
        let oxygen = |at_s: f64| {
            let now = moments.iter().rev().find(|moment| moment.from_s <= at_s)?;
            Some(now.settings.gas.as_ref()?.oxygen_percent / 100.0)
        };
        let starts = protocol.changes.iter().map(|change| (change.at.as_s(), &change.setup));
        let starts: Vec<_> = [(0.0, &protocol.start)].into_iter().chain(starts).collect();
        let ends = starts.iter().skip(1).map(|(at_s, _)| *at_s);
        for ((from_s, setup), to_s) in starts.iter().zip(ends.chain([protocol.duration.as_s()])) {
            let l_s = setup.ventilator.fresh_gas_flow.as_ml_s() / 1000.0 * oxygen(*from_s)?;
            let used_l = l_s * (to_s - from_s);
            if used_l > 0.0 && used_l >= left_l {
                return Some(from_s + left_l / l_s);
            }
            left_l -= used_l;
        }
        None
    }

    /// The same protocol with no fresh gas once the cylinder is empty.
    pub(super) fn with_cylinder(&self, mut protocol: Protocol) -> Protocol {
        let empty_s = self.cylinder().and_then(|cylinder| self.empties(cylinder, &protocol));
        let Some(empty_s) = empty_s else { return protocol };
        let before = protocol.changes.iter().rposition(|change| change.at.as_s() <= empty_s);
        let setup = before.map_or(&protocol.start, |index| &protocol.changes[index].setup).clone();
        let at = before.map_or(0, |index| index + 1);
        protocol.changes.insert(at, Change { at: Seconds::s(empty_s), setup });
        for change in &mut protocol.changes[at..] {
            change.setup.ventilator.fresh_gas_flow = Flow::ZERO;
        }
        protocol
    }
}
