//! Ids: positions in the lists of a [`Circuit`](crate::Circuit), so they change with the file. What is stored or shown
//! uses the path or name instead.

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);
        impl $name {
            /// The position.
            pub fn idx(self) -> usize { self.0 as usize }
        }
        impl From<usize> for $name {
            fn from(idx: usize) -> Self { Self(idx as u32) }
        }
    )*};
}

ids! {
    /// A point of the circuit: everything within it is at one voltage.
    PointId
    /// A branch: one element between points.
    BranchId
    /// Anything a technician would name: wire, connector, fuse, module, device …
    PartId
    /// A connector.
    ConnectorId
    /// A wire.
    WireId
    /// A module.
    ModuleId
    /// A device (sensor, actuator, lamp, switch) or an accessory.
    DeviceId
    /// A fuse.
    FuseId
    /// A relay.
    RelayId
    /// A quantity that a sensor senses and the technician can set: throttle, temperature, pressure.
    SensedId
    /// A load that can be commanded.
    LoadId
    /// Something that repeats: pulses, teeth, traffic on a bus.
    RhythmId
    /// A named uncertain parameter.
    ParamId
    /// A value in scan data.
    ChannelId
    /// A check by which a module sets a code.
    MonitorId
    /// A possible fault: position in the list of [`possible_faults`](crate::fault::possible_faults).
    FaultId
}
