//! Every key of a circuit file, with its meaning. The schema and the decoder both come from here.

use super::archetype::ArchetypeKeys;
use super::decode::{ByCavity, ByName, record};
use super::formula::Formula;
use super::kind_keys::KindKeys;
use super::unsaid::Unsaid;
use super::value::{
    Ampere, Between, CavityRow, Count, Currency, Hertz, Metre, Minute, Number, Ohm, Pair, Percent, Second,
    SquareMillimetre, Strength, Text, Value, Volt,
};

record! {
    /// A circuit: its parts and how they are wired. A point is written `S1.2` (a plug's cavity), `floor.7/a` (one side of
    /// a joint), `F1/out`, `K1/87`, `battery+`, `battery-`, `body`, or the name of a splice, ground or feed.
    CircuitFile {
        /// What the circuit does.
        title: Text,
        /// The vehicle, in your own words.
        vehicle: Option<Text>,
        /// Files of device kinds that this circuit uses.
        include: Option<Vec<Text>>,
        /// The battery.
        battery: Option<BatteryKeys>,
        /// Charger or alternator: supports the battery while the engine runs.
        charger: Option<ChargerKeys>,
        /// Feeds: live rails behind the ignition switch or another switch.
        #[schemars(default)]
        feed: ByName<FeedKeys>,
        /// Fuses.
        #[schemars(default)]
        fuse: ByName<FuseKeys>,
        /// Relays. Their terminals are 30, 85, 86, 87 and 87a: a wire ends at `K1/87`.
        #[schemars(default)]
        relay: ByName<RelayKeys>,
        /// Ground studs and straps.
        #[schemars(default)]
        ground: ByName<GroundKeys>,
        /// What devices sense and what can be set: a temperature, a position, a pressure.
        #[schemars(default)]
        sensed: ByName<SensedKeys>,
        /// What can be commanded, by scan tool or by hand.
        #[schemars(default)]
        load: ByName<LoadKeys>,
        /// What repeats: pulses, teeth, traffic on a bus.
        #[schemars(default)]
        rhythm: ByName<RhythmKeys>,
        /// Control modules.
        #[schemars(default)]
        module: ByName<ModuleKeys>,
        /// Sensors, actuators, lamps, switches, accessories.
        #[schemars(default)]
        device: ByName<DeviceKeys>,
        /// Connectors.
        #[schemars(default)]
        connector: ByName<ConnectorKeys>,
        /// Wires.
        #[schemars(default)]
        wire: ByName<WireKeys>,
        /// Splices.
        #[schemars(default)]
        splice: ByName<SpliceKeys>,
        /// Runs of harness in which wires lie side by side.
        #[schemars(default)]
        bundle: ByName<BundleKeys>,
        /// Places where the harness rubs on body metal.
        #[schemars(default)]
        chafe: ByName<ChafeKeys>,
        /// Device kinds of your own.
        #[schemars(default)]
        kind: ByName<KindKeys>,
        /// What makes it a ready-made circuit: what it is for, what to beware of, what to ask.
        archetype: Option<ArchetypeKeys>,
    }
}

record! {
    /// The battery.
    BatteryKeys {
        /// Voltage at rest.
        volts: Option<Value<Volt>>,
        /// Voltage behind the internal resistance while cranking.
        cranking: Option<Value<Volt>>,
        /// Internal resistance, while it gives.
        ohms: Option<Value<Ohm>>,
        /// Resistance against charge, on top of that: how far above its rest voltage it must be held for each ampere.
        charging: Option<Value<Ohm>>,
        /// Minutes to reach its posts.
        reach: Option<Value<Minute>>,
        /// Price of a new one.
        price: Option<Value<Currency>>,
        /// Minutes to replace it.
        repair: Option<Value<Minute>>,
        /// Already replaced, in vain.
        new: Option<bool>,
    }
}

record! {
    /// Charger or alternator.
    ChargerKeys {
        /// Voltage while the engine runs.
        volts: Option<Value<Volt>>,
        /// Its resistance with the cable.
        ohms: Option<Value<Ohm>>,
        /// Most current that it gives. Beyond that the battery helps.
        limit: Option<Value<Ampere>>,
        /// Price of a new one.
        price: Option<Value<Currency>>,
        /// Minutes to replace it.
        repair: Option<Value<Minute>>,
        /// Already replaced, in vain.
        new: Option<bool>,
    }
}

record! {
    /// A live rail behind a switch.
    FeedKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// Where it comes from.
        from: Text,
        /// Key positions in which it is live: off, accessory, on, cranking, running, held (for a while after key-off),
        /// asleep. Left out: always live.
        live: Option<Vec<Text>>,
        /// Resistance of the switch.
        ohms: Option<Value<Ohm>>,
        /// Minutes to repair the switch.
        repair: Option<Value<Minute>>,
        /// Price of the switch.
        price: Option<Value<Currency>>,
    }
}

record! {
    /// A fuse. Wires and feeds start at `F1/out`.
    FuseKeys {
        /// In plain words.
        name: Option<Text>,
        /// Where its other side comes from. Leave it out if a wire ends at `F1/in`.
        from: Option<Text>,
        /// Current that is printed on it.
        rating: Value<Ampere>,
        /// Resistance.
        ohms: Option<Value<Ohm>>,
        /// Minutes to reach it.
        reach: Option<Value<Minute>>,
    }
}

record! {
    /// A relay in a socket.
    RelayKeys {
        /// In plain words.
        name: Option<Text>,
        /// Resistance of the coil between 85 and 86.
        coil: Option<Value<Ohm>>,
        /// Resistance of the closed contacts.
        contact: Option<Value<Ohm>>,
        /// Voltage at the coil at which it pulls in.
        pull_in: Option<Value<Volt>>,
        /// Voltage at the coil below which it drops out.
        drop_out: Option<Value<Volt>>,
        /// Most current through the contacts.
        rating: Option<Value<Ampere>>,
        /// Resistor across the coil, inside the relay.
        suppressor: Option<Value<Ohm>>,
        /// Minutes to reach its socket.
        reach: Option<Value<Minute>>,
        /// Price of a new one.
        price: Option<Value<Currency>>,
        /// Minutes to replace it.
        repair: Option<Value<Minute>>,
        /// Already replaced, in vain.
        new: Option<bool>,
    }
}

record! {
    /// A ground stud or strap. `[ground.body]` is body metal itself and its strap to the battery.
    GroundKeys {
        /// In plain words.
        name: Option<Text>,
        /// What it is bolted to. Left out: `body`, and for `body` itself `battery-`.
        to: Option<Text>,
        /// Resistance from the stud to what it is bolted to.
        ohms: Option<Value<Ohm>>,
        /// Minutes to reach it.
        reach: Option<Value<Minute>>,
        /// Minutes to clean and tighten it.
        repair: Option<Value<Minute>>,
    }
}

record! {
    /// Something that devices sense.
    SensedKeys {
        /// In plain words.
        name: Option<Text>,
        /// Unit as shown: `bar`, `°C`, `%`.
        unit: Option<Text>,
        /// Least and most value.
        range: Pair<Number, Number>,
        /// Value when nobody says otherwise. Left out: the middle.
        usual: Option<Number>,
        /// The usual value in a key position that has another: `{ cranking = 200 }`.
        #[schemars(default)]
        at_key: ByName<Number>,
        /// How well you know it: two thirds of the time it lies this close to what you think.
        spread: Option<Number>,
        /// Minutes to set it to another value. Left out: it cannot be set at will.
        set: Option<Value<Minute>>,
    }
}

record! {
    /// Something that can be commanded.
    LoadKeys {
        /// In plain words.
        name: Option<Text>,
        /// What moves, heats or pumps when it is commanded.
        acts: Option<Text>,
    }
}

record! {
    /// Something that repeats.
    RhythmKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// How often it goes through its phases.
        rate: Option<Value<Hertz>>,
        /// How often, where that follows a sensed value: rows of that value and frequency.
        rates: Option<Vec<Pair<Number, Value<Hertz>>>>,
        /// The sensed value that `rates` follow: a name of `[sensed]`.
        by: Option<Text>,
        /// When it goes. Left out: always.
        runs: Option<Text>,
        /// Its phases by name, in order: `on = { share = "30 %" }`. What is left of the time it rests.
        #[schemars(default)]
        phase: ByName<PhaseKeys>,
    }
}

record! {
    /// A phase of something that repeats. Conditions refer to it: `pulses in on`.
    PhaseKeys [at] {
        /// Its share of the time.
        share: Value<Percent>,
        /// What it sets: a name of `[sensed]`.
        sets: Option<Text>,
        /// The value that this takes meanwhile.
        to: Option<Number>,
    }
}

record! {
    /// A control module.
    ModuleKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// What it draws from its feed while awake.
        draws: Option<Value<Ampere>>,
        /// Its regulated rail, which references follow.
        rail: Option<Value<Volt>>,
        /// Pins by connector and cavity: `M1.12 = { kind = "reference" }`.
        #[schemars(default)]
        pin: ByCavity<PinKeys>,
        /// Values it shows in scan data.
        #[schemars(default)]
        channel: ByName<ChannelKeys>,
        /// Checks by which it sets codes.
        monitor: Option<Vec<MonitorKeys>>,
        /// Price of a new one.
        price: Option<Value<Currency>>,
        /// Minutes to replace and set it up.
        repair: Option<Value<Minute>>,
        /// Already replaced, in vain.
        new: Option<bool>,
    }
}

record! {
    /// A pin of a module.
    PinKeys [at] {
        /// feed, ground, sensor ground, reference, input, low-side driver or high-side driver.
        kind: Text,
        /// In plain words.
        name: Option<Text>,
        /// Most current it bears either way. Left out: by kind.
        rating: Option<Value<Ampere>>,
        /// Most voltage against the module's ground that may be put on it. Left out: by kind.
        rating_volts: Option<Value<Volt>>,
        /// feed: whether the module runs from it. Left out: the first feed pin does.
        powers: Option<bool>,
        /// ground, sensor ground: resistance inside. driver, input with `on`: resistance when on. reference: of its output.
        ohms: Option<Value<Ohm>>,
        /// reference: its voltage. Left out: it follows the module's rail.
        volts: Option<Value<Volt>>,
        /// reference, driver, input with `on`: current at which it limits or shuts off.
        limit: Option<Value<Ampere>>,
        /// reference: current it can sink. Left out: none.
        sinks: Option<Value<Ampere>>,
        /// input: resistor to the rail: a value, a range, `unknown` or `none`.
        pull_up: Option<Strength>,
        /// input: what the pull-up goes to, `rail` or `feed`.
        pull_up_to: Option<Text>,
        /// input: resistor to the module's ground.
        pull_down: Option<Strength>,
        /// input: resistor between the pin and the converter.
        series: Option<Strength>,
        /// input: clamp diodes behind the series resistor. Left out: yes.
        clamps: Option<bool>,
        /// input: what its converter leaks by: where the input goes once nothing holds it.
        leak: Option<Strength>,
        /// input: where that leak goes, `ground` or `rail`. Left out: ground.
        leak_to: Option<Text>,
        /// input, reference: `unknown`, or what it may be, each with its chance. Readings then tell which it is.
        insides: Option<Unsaid>,
        /// driver: when it is on: `fan commanded`, `key on, running`. input: when the module itself pulls the line to ground,
        /// as on a bus of one wire.
        on: Option<Text>,
        /// high-side driver: what it switches, `feed` or the module's `rail`. Left out: the feed.
        from: Option<Text>,
        /// driver: when it switches to the other side instead: half of a bridge.
        opposite: Option<Text>,
        /// driver: whether a diode lets the current of a coil flow on when it switches off. Left out: only in a bridge.
        freewheel: Option<bool>,
        /// driver: resistance to where it switches when off.
        off: Option<Value<Ohm>>,
        /// driver: open-load bias to the rail.
        bias_up: Option<Strength>,
        /// driver: open-load bias to ground.
        bias_down: Option<Strength>,
    }
}

record! {
    /// A value in scan data.
    ChannelKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// The input, or the reference or feed that the module watches, e.g. `M1.27`.
        pin: Text,
        /// The pin that its converter measures against. Left out: the module's ground inside.
        against: Option<Text>,
        /// Range of the converter.
        converter: Option<Between<Volt>>,
        /// Whether its full scale follows the module's rail. Left out: yes.
        ratiometric: Option<bool>,
        /// Bits of the converter.
        bits: Option<Count>,
        /// It counts pulses: how low the voltage must fall and how high it must rise for one.
        counts: Option<Between<Volt>>,
        /// Rows of volts and shown value, by rising volts.
        scaling: Option<Vec<Pair<Value<Volt>, Number>>>,
        /// Of a channel that counts: rows of frequency and shown value, by rising frequency.
        rates: Option<Vec<Pair<Value<Hertz>, Number>>>,
        /// Unit shown.
        unit: Option<Text>,
        /// Time constant of its filter.
        filter: Option<Value<Second>>,
        /// What is shown instead while a code of this channel is set.
        substitute: Option<Number>,
    }
}

record! {
    /// A check by which a module sets a code.
    MonitorKeys [at] {
        /// The code, e.g. `P0532`.
        code: Text,
        /// In plain words.
        name: Option<Text>,
        /// The channel it watches …
        channel: Option<Text>,
        /// … or the driver's pin, e.g. `M1.27`.
        pin: Option<Text>,
        /// Sets when the converter, or the pin against the module's ground, sees less than this.
        below: Option<Value<Volt>>,
        /// Sets when it sees more than this.
        above: Option<Value<Volt>>,
        /// Sets when it sees something between these.
        between: Option<Between<Volt>>,
        /// Sets when the driver of the pin carries less than this.
        weaker: Option<Value<Ampere>>,
        /// Sets when it carries more than this.
        stronger: Option<Value<Ampere>>,
        /// Sets when a channel that counts counts fewer than this.
        slower: Option<Value<Hertz>>,
        /// Sets when a channel that counts counts more than this.
        faster: Option<Value<Hertz>>,
        /// When it runs. Left out: `key on, running`.
        runs: Option<Text>,
        /// For how long the value must stand.
        time: Option<Value<Second>>,
        /// What the module does then.
        then: Option<Text>,
    }
}

record! {
    /// A device or accessory.
    DeviceKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// One of the built-in kinds, or one of `[kind]`.
        kind: Text,
        /// Where each pin of the kind is: `signal = "S1.3"`.
        #[schemars(default)]
        pins: ByName<Text>,
        /// Values of the kind that are known: `track = "4.8k ± 2 %"`.
        #[schemars(default)]
        values: ByName<Formula>,
        /// What it senses: a name of `[sensed]`.
        senses: Option<Text>,
        /// What commands it, if it follows a command itself: a name of `[load]`.
        load: Option<Text>,
        /// What repeats in it: a name of `[rhythm]`.
        rhythm: Option<Text>,
        /// The two connectors between which it plugs in; with it out they are joined to each other.
        between: Option<Pair<Text, Text>>,
        /// What moves, heats or pumps when it is energised.
        acts: Option<Text>,
        /// Price of a new one.
        price: Option<Value<Currency>>,
        /// Minutes to replace it.
        repair: Option<Value<Minute>>,
        /// Already replaced, in vain.
        new: Option<bool>,
    }
}

record! {
    /// A connector: the plug of a module or device, or a joint between two wires.
    ConnectorKeys {
        /// In plain words.
        name: Option<Text>,
        /// A joint: what its sides a and b are, e.g. `["module side", "sensor side"]`.
        sides: Option<Pair<Text, Text>>,
        /// Cavities in rows as moulded on its face, so that neighbours are known. Left out: one row.
        rows: Option<Vec<CavityRow>>,
        /// Whether its wire side can be back-probed. Left out: yes.
        back_probe: Option<bool>,
        /// Minutes to reach it.
        reach: Option<Value<Minute>>,
        /// Minutes to part it and to mate it again.
        part: Option<Value<Minute>>,
        /// Lies where water gets.
        wet: Option<bool>,
        /// Resistance of a mated contact.
        contact: Option<Value<Ohm>>,
        /// Most current through a contact. Left out: by the wire's size.
        rating: Option<Value<Ampere>>,
        /// Minutes to replace a terminal.
        repair: Option<Value<Minute>>,
        /// Price of a terminal or plug.
        price: Option<Value<Currency>>,
        /// What goes through a cavity, in plain words, by its number. Left out: the name of the pin.
        #[schemars(default)]
        cavity: ByName<Text>,
    }
}

record! {
    /// A wire.
    WireKeys {
        /// In plain words. Left out: its colour.
        name: Option<Text>,
        /// Where it starts.
        from: Text,
        /// Where it ends.
        to: Text,
        /// Colour with tracer: `violet/yellow`.
        colour: Option<Text>,
        /// Length.
        length: Option<Value<Metre>>,
        /// Cross-section, in mm² or AWG.
        size: Option<Value<SquareMillimetre>>,
        /// Most current it bears. Left out: by its size.
        rating: Option<Value<Ampere>>,
        /// Minutes to repair it.
        repair: Option<Value<Minute>>,
    }
}

record! {
    /// A splice. Two wires or more end at its name.
    SpliceKeys {
        /// In plain words.
        name: Option<Text>,
        /// Resistance of one leg.
        ohms: Option<Value<Ohm>>,
        /// Minutes to reach and repair it.
        repair: Option<Value<Minute>>,
    }
}

record! {
    /// A run of harness.
    BundleKeys {
        /// In plain words.
        name: Option<Text>,
        /// The wires in it.
        wires: Vec<Text>,
        /// Minutes to open and repair it.
        repair: Option<Value<Minute>>,
    }
}

record! {
    /// A place where the harness rubs on body metal.
    ChafeKeys {
        /// In plain words.
        name: Option<Text>,
        /// The wires at risk.
        wires: Vec<Text>,
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::super::archetype::{AskKeys, ChoiceKeys};
    use super::super::kind_keys::{ElementKeys, KindFile, KindValueKeys};
    use super::super::{decode::Decode, mistake::Slips, unsaid::AlternativeKeys};
    use super::*;

    /// The schema of `T` has exactly the keys that its decoder knows, and asks for exactly those that it misses.
    fn same<T: schemars::JsonSchema + Decode>(known: &[&str]) {
        let schema = schemars::schema_for!(T);
        let properties = schema
            .get("properties")
            .and_then(|properties| properties.as_object())
            .unwrap();
        let in_schema: BTreeSet<&str> = properties.keys().map(String::as_str).collect();
        assert_eq!(in_schema, known.iter().copied().collect(), "{}", T::schema_name());
        assert_eq!(
            schema.get("additionalProperties").and_then(serde_json::Value::as_bool),
            Some(false)
        );

        let mut slips = Slips::new("", None);
        let nothing = toml::Spanned::new(0..0, toml::de::DeValue::Table(toml::de::DeTable::new()));
        T::decode(&nothing, &mut slips);
        let missed: BTreeSet<String> = slips
            .into_mistakes()
            .into_iter()
            .map(|mistake| mistake.message)
            .collect();
        let required = schema
            .get("required")
            .and_then(|required| required.as_array())
            .into_iter()
            .flatten();
        let required = required.filter_map(|key| Some(format!("`{}` is missing here", key.as_str()?)));
        assert_eq!(missed, required.collect(), "{}", T::schema_name());
    }

    macro_rules! all_the_same {
        ($($record:ident)*) => { $(same::<$record>($record::KEYS);)* };
    }

    #[test]
    fn schema_and_decoder_know_the_same_keys() {
        all_the_same! {
            CircuitFile KindFile BatteryKeys ChargerKeys FeedKeys FuseKeys RelayKeys GroundKeys SensedKeys LoadKeys
            RhythmKeys PhaseKeys ModuleKeys PinKeys ChannelKeys MonitorKeys DeviceKeys ConnectorKeys WireKeys SpliceKeys BundleKeys ChafeKeys
            AlternativeKeys KindKeys KindValueKeys ElementKeys ArchetypeKeys AskKeys ChoiceKeys
        }
    }
}
