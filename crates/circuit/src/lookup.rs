//! Finding things of a circuit by what they are called.

use crate::file::nearest;
use crate::id::{
    BranchId, ChannelId, ConnectorId, DeviceId, FuseId, LoadId, ModuleId, MonitorId, ParamId, PartId, PointId, RelayId,
    SensedId, WireId,
};
use crate::model::{Circuit, PartKind, Pin};

impl Circuit {
    /// The point of this path.
    pub fn point(&self, path: &str) -> Option<PointId> {
        self.points
            .iter()
            .position(|point| point.path == path)
            .map(PointId::from)
    }

    /// The branch of this path.
    pub fn branch(&self, path: &str) -> Option<BranchId> {
        self.branches
            .iter()
            .position(|branch| branch.path == path)
            .map(BranchId::from)
    }

    /// The part of this id.
    pub fn part(&self, id: &str) -> Option<PartId> {
        self.parts.iter().position(|part| part.id == id).map(PartId::from)
    }

    /// What the part of this id is.
    pub fn part_kind(&self, id: &str) -> Option<PartKind> {
        self.parts.iter().find(|part| part.id == id).map(|part| part.kind)
    }

    /// The connector of this id.
    pub fn connector(&self, id: &str) -> Option<ConnectorId> {
        if let Some(PartKind::Connector(connector)) = self.part_kind(id) {
            Some(connector)
        } else {
            None
        }
    }

    /// The wire of this id.
    pub fn wire(&self, id: &str) -> Option<WireId> {
        if let Some(PartKind::Wire(wire)) = self.part_kind(id) {
            Some(wire)
        } else {
            None
        }
    }

    /// The module of this id.
    pub fn module(&self, id: &str) -> Option<ModuleId> {
        if let Some(PartKind::Module(module)) = self.part_kind(id) {
            Some(module)
        } else {
            None
        }
    }

    /// The device or accessory of this id.
    pub fn device(&self, id: &str) -> Option<DeviceId> {
        if let Some(PartKind::Device(device)) = self.part_kind(id) {
            Some(device)
        } else {
            None
        }
    }

    /// The fuse of this id.
    pub fn fuse(&self, id: &str) -> Option<FuseId> {
        if let Some(PartKind::Fuse(fuse)) = self.part_kind(id) {
            Some(fuse)
        } else {
            None
        }
    }

    /// The relay of this id.
    pub fn relay(&self, id: &str) -> Option<RelayId> {
        if let Some(PartKind::Relay(relay)) = self.part_kind(id) {
            Some(relay)
        } else {
            None
        }
    }

    /// The sensed value of this id.
    pub fn sensed(&self, id: &str) -> Option<SensedId> {
        self.sensed
            .iter()
            .position(|sensed| sensed.id == id)
            .map(SensedId::from)
    }

    /// The load of this id.
    pub fn load(&self, id: &str) -> Option<LoadId> {
        self.loads.iter().position(|load| load.id == id).map(LoadId::from)
    }

    /// The channel of this id.
    pub fn channel(&self, id: &str) -> Option<ChannelId> {
        self.channels
            .iter()
            .position(|channel| channel.id == id)
            .map(ChannelId::from)
    }

    /// The monitor of this code.
    pub fn monitor(&self, code: &str) -> Option<MonitorId> {
        self.monitors
            .iter()
            .position(|monitor| monitor.code == code)
            .map(MonitorId::from)
    }

    /// The parameter of this path.
    pub fn param(&self, path: &str) -> Option<ParamId> {
        self.params
            .iter()
            .position(|param| param.path == path)
            .map(ParamId::from)
    }

    /// The pin behind which a channel's converter listens.
    pub fn pin_of(&self, channel: ChannelId) -> Option<&Pin> {
        let channel = self.channels.get(channel.idx())?;
        let pins = &self.modules.get(channel.module.idx())?.pins;
        let behind = |pin: &&Pin| {
            let mut inside = pin.inside.iter().map(|branch| self.branches[branch.idx()].kind.ends());
            inside.any(|(a, b)| [a, b].contains(&channel.sense))
        };
        // A feed that is watched is an end of what other pins have inside as well.
        let itself = pins.iter().find(|pin| pin.point == channel.sense);
        itself.or_else(|| pins.iter().find(behind))
    }

    /// The path of a point that is spelled most like `name`, if near enough to be meant: for "did you mean".
    pub fn nearest_point(&self, name: &str) -> Option<&str> {
        nearest(name, self.points.iter().map(|point| point.path.as_str()))
    }

    /// The id of a part that is spelled most like `name`, if near enough to be meant.
    pub fn nearest_part(&self, name: &str) -> Option<&str> {
        nearest(name, self.parts.iter().map(|part| part.id.as_str()))
    }
}
