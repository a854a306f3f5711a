//! What a circuit is: the parts a technician would name, and the points and branches they are made of.

use std::collections::BTreeMap;

use crate::branch::{Branch, Param, Point};
use crate::id::{
    BranchId, ConnectorId, DeviceId, FuseId, ModuleId, ParamId, PartId, PointId, RelayId, SensedId, WireId,
};
use crate::monitor::Monitor;
use crate::rhythm::Rhythm;
use crate::set_up::Key;
use crate::unknown::Unknown;

/// A whole circuit, as read from a file: consistent, every id valid.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// Title of the circuit.
    pub title: String,
    /// The vehicle, in the technician's words; may be empty.
    pub vehicle: String,
    /// Every point.
    pub points: Vec<Point>,
    /// Every branch.
    pub branches: Vec<Branch>,
    /// Every named part.
    pub parts: Vec<Part>,
    /// Connectors.
    pub connectors: Vec<Connector>,
    /// Wires.
    pub wires: Vec<Wire>,
    /// Splices.
    pub splices: Vec<Splice>,
    /// Modules.
    pub modules: Vec<Module>,
    /// Devices and accessories.
    pub devices: Vec<Device>,
    /// Fuses.
    pub fuses: Vec<Fuse>,
    /// Relays.
    pub relays: Vec<Relay>,
    /// Feeds: named live rails and what they do by key position.
    pub feeds: Vec<Feed>,
    /// Grounds: studs and straps.
    pub grounds: Vec<Ground>,
    /// Runs of harness in which wires lie side by side.
    pub bundles: Vec<Bundle>,
    /// Places where a wire rubs on body metal.
    pub chafes: Vec<Chafe>,
    /// What can be sensed.
    pub sensed: Vec<Sensed>,
    /// What can be commanded.
    pub loads: Vec<Load>,
    /// What repeats.
    pub rhythms: Vec<Rhythm>,
    /// Uncertain parameters.
    pub params: Vec<Param>,
    /// What nobody documented: each is one of several alternatives.
    pub unknowns: Vec<Unknown>,
    /// Values in scan data.
    pub channels: Vec<Channel>,
    /// Checks that set codes.
    pub monitors: Vec<Monitor>,
    /// Battery positive post.
    pub battery_plus: PointId,
    /// Battery negative post: the black lead's usual place and the solver's reference.
    pub battery_minus: PointId,
    /// Body metal.
    pub body: PointId,
}

/// Anything a technician would name.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Unique id as in the file: `S1`, `W3`, `climate`.
    pub id: String,
    /// Name in plain words: "sensor plug", "violet/yellow wire".
    pub name: String,
    /// Which list it is in.
    pub kind: PartKind,
    /// Minutes to repair or replace it and the price of the part (0 if none), where the file says.
    pub repair_minutes: Option<f64>,
    /// Price of the part in the shop's money, where the file says.
    pub price: Option<f64>,
    /// Already replaced on this vehicle, in vain.
    pub is_new: bool,
}

/// Which list a part is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartKind {
    /// The battery.
    Battery,
    /// Charger or alternator.
    Charger,
    /// A connector.
    Connector(ConnectorId),
    /// A wire.
    Wire(WireId),
    /// A splice: position in `splices`.
    Splice(usize),
    /// A module.
    Module(ModuleId),
    /// A device or accessory.
    Device(DeviceId),
    /// A fuse.
    Fuse(FuseId),
    /// A relay.
    Relay(RelayId),
    /// A feed: position in `feeds`.
    Feed(usize),
    /// A ground: position in `grounds`.
    Ground(usize),
}

/// A connector: two halves that come apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Connector {
    /// Its part.
    pub part: PartId,
    /// Cavity numbers in rows as moulded on the face, for neighbours and for the picture of the face.
    pub rows: Vec<Vec<u16>>,
    /// What each half belongs to; `[0]` is the `a` half (always wires), `[1]` the `b` half.
    pub halves: [Half; 2],
    /// The cavities in use.
    pub cavities: BTreeMap<u16, Cavity>,
    /// The wire side can be back-probed.
    pub back_probe: bool,
    /// Minutes to reach it.
    pub reach_minutes: f64,
    /// Minutes to part it and to mate it again, once reached.
    pub part_minutes: f64,
    /// Lies where water gets: low in the floor, under the bonnet. Multiplies the chance of water and corrosion.
    pub wet: bool,
}

/// One half of a connector.
#[derive(Clone, Debug, PartialEq)]
pub struct Half {
    /// In plain words: "module side", "wire side", "pins".
    pub words: String,
    /// What it belongs to.
    pub owner: Owner,
}

/// What a connector half belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Owner {
    /// Wires of the harness.
    Harness,
    /// Pins of a module.
    Module(ModuleId),
    /// Pins of a device or accessory.
    Device(DeviceId),
}

/// One cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Cavity {
    /// What goes through it, in plain words: "signal"; may be empty.
    pub words: String,
    /// The contact between the two terminals.
    pub contact: BranchId,
    /// The terminal on each half.
    pub terminals: [PointId; 2],
    /// Crimp and wire on each half that has one.
    pub wires: [Option<(BranchId, WireId)>; 2],
}

/// A wire from end to end.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Its part.
    pub part: PartId,
    /// The branch.
    pub branch: BranchId,
    /// Points at its two ends (inside the crimp, at a splice, a stud, a fuse).
    pub ends: [PointId; 2],
    /// Body colour name in plain English: "violet".
    pub colour: String,
    /// Tracer colour.
    pub tracer: Option<String>,
    /// Metres.
    pub length: f64,
    /// Square millimetres.
    pub area: f64,
}

/// A splice.
#[derive(Clone, Debug, PartialEq)]
pub struct Splice {
    /// Its part.
    pub part: PartId,
    /// The joint.
    pub point: PointId,
    /// A joint branch for each wire that ends here.
    pub legs: Vec<(BranchId, WireId)>,
}

/// A module.
#[derive(Clone, Debug, PartialEq)]
pub struct Module {
    /// Its part.
    pub part: PartId,
    /// Its pins.
    pub pins: Vec<Pin>,
    /// Inside: the logic rail.
    pub rail: PointId,
    /// Inside: the module's ground.
    pub ground: PointId,
    /// Inside: the supply after the feed pin, if it has one in this circuit.
    pub supply: Option<PointId>,
}

/// A pin of a module.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// Connector and cavity.
    pub connector: ConnectorId,
    /// Cavity number.
    pub cavity: u16,
    /// In plain words: "pressure signal".
    pub words: String,
    /// What is inside.
    pub kind: PinKind,
    /// The pin itself (`b` terminal of the cavity).
    pub point: PointId,
    /// Branches inside that belong to it.
    pub inside: Vec<BranchId>,
    /// Most current it bears either way, amperes.
    pub rating_amps: f64,
    /// Most voltage against the module's ground that it bears, where voltage and not current is what ends it.
    pub rating_volts: Option<f64>,
}

/// What is inside a module pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PinKind {
    /// Feed.
    Feed,
    /// Power ground.
    Ground,
    /// Ground for sensors.
    SensorGround,
    /// Regulated reference.
    Reference,
    /// Analogue or switch input.
    Input,
    /// Switches a load to ground.
    LowSideDriver,
    /// Switches a load to the feed.
    HighSideDriver,
}

/// A device or accessory.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// Its part.
    pub part: PartId,
    /// Kind as in the file: `potentiometer`, `thermistor`, or a composed kind's name.
    pub kind: String,
    /// Its pins: name ("signal"), point.
    pub pins: Vec<(String, PointId)>,
    /// Branches inside.
    pub inside: Vec<BranchId>,
    /// What it senses.
    pub senses: Option<SensedId>,
    /// Plugs in between two connectors and can be taken out.
    pub accessory: bool,
    /// Drives, heats or pumps something when energised, in plain words: "the fan turns".
    pub acts: Option<String>,
}

/// A fuse.
#[derive(Clone, Debug, PartialEq)]
pub struct Fuse {
    /// Its part.
    pub part: PartId,
    /// The branch.
    pub branch: BranchId,
    /// Amperes.
    pub rating_amps: f64,
}

/// A relay.
#[derive(Clone, Debug, PartialEq)]
pub struct Relay {
    /// Its part.
    pub part: PartId,
    /// Coil branch.
    pub coil: BranchId,
    /// Contact branches.
    pub contacts: Vec<BranchId>,
}

/// A named live rail.
#[derive(Clone, Debug, PartialEq)]
pub struct Feed {
    /// Its part.
    pub part: PartId,
    /// The rail.
    pub point: PointId,
    /// Live in these key positions.
    pub live_in: Vec<Key>,
}

/// A ground stud or strap.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// Its part.
    pub part: PartId,
    /// The stud.
    pub point: PointId,
    /// Resistance from it to where it is bolted.
    pub branch: BranchId,
}

/// Wires side by side in one run of harness.
#[derive(Clone, Debug, PartialEq)]
pub struct Bundle {
    /// In plain words: "floor joint to sensor".
    pub words: String,
    /// The wires.
    pub wires: Vec<WireId>,
    /// Minutes to open and repair the run.
    pub repair_minutes: f64,
}

/// A place where the harness rubs.
#[derive(Clone, Debug, PartialEq)]
pub struct Chafe {
    /// In plain words: "at the bracket behind the left lamp".
    pub words: String,
    /// The wires at risk.
    pub wires: Vec<WireId>,
}

/// A quantity that can be sensed and set.
#[derive(Clone, Debug, PartialEq)]
pub struct Sensed {
    /// Id: `pressure`.
    pub id: String,
    /// In plain words.
    pub words: String,
    /// Unit as shown: `bar`, `°C`, `%`.
    pub unit: String,
    /// Least, usual and most value.
    pub range: (f64, f64),
    /// Value when a set-up does not say.
    pub usual: f64,
    /// The same in key positions that have a usual value of their own: a starter turns an engine slower than it idles.
    pub at_key: BTreeMap<Key, f64>,
    /// How well the technician knows it (standard deviation in its unit); moves readings as a parameter.
    pub spread: f64,
    /// The parameter that carries this doubt.
    pub param: Option<ParamId>,
    /// Minutes to set it to another value; `None` if it cannot be set at will.
    pub set_minutes: Option<f64>,
}

/// A load that can be commanded.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Id: `fan`.
    pub id: String,
    /// In plain words: "condenser fan".
    pub words: String,
    /// What happens when it is commanded, in plain words, if it moves, heats or pumps something.
    pub acts: Option<String>,
}

/// A value in scan data.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    /// Id: `pressure`.
    pub id: String,
    /// In plain words.
    pub words: String,
    /// The module.
    pub module: ModuleId,
    /// Where the converter senses (behind the series resistor) …
    pub sense: PointId,
    /// … against this point.
    pub against: PointId,
    /// Converter full scale is the rail (ratiometric) if true, else `high_volts` as such.
    pub ratiometric: bool,
    /// Converter range in volts: clamped to it.
    pub low_volts: f64,
    /// Upper end.
    pub high_volts: f64,
    /// Steps of the converter.
    pub steps: u32,
    /// (volts, shown value), sorted; linear between, held outside.
    pub scaling: Vec<(f64, f64)>,
    /// Unit shown.
    pub unit: String,
    /// Time constant of its filter, seconds.
    pub filter_seconds: f64,
    /// Counts how often the voltage falls below the first and rises above the second, volts, in place of showing it: the
    /// first column of `scaling`, and what monitors compare, are then hertz.
    pub counts: Option<(f64, f64)>,
    /// What is shown instead while a code of this channel is set.
    pub substitute: Option<f64>,
}
