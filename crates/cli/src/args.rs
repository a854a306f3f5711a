//! The command line.

use std::path::PathBuf;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args as ClapArgs, Parser, Subcommand};
use diagnosis::Costs;
use trials::{Differs, Strategy};

use crate::learn::LearnArgs;
use crate::proof::ProofArgs;
use crate::vin::VinArgs;
use crate::write_up::WriteUpArgs;

/// Bench partner of the vehicle electrical diagnostician: from a circuit and a few readings to the cause.
///
/// Without a command it serves the demo job's page on this machine and opens it.
#[derive(Debug, Parser)]
#[command(
    name = "probewise",
    version,
    after_help = "Example:\n  probewise suspects demo --reading \"key on; S1 apart | voltmeter S1.3 | 10.4 V\"\n\nA circuit is a file, `library:GROUP/NAME` for one of the shop's library, or `demo` for the built-in one. Texts for set-ups, tests and values: see docs/command-line.md."
)]
pub(crate) struct Args {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
    /// Folder of the shop's library, for `library:GROUP/NAME`; one beside the jobs of `serve` if left out.
    #[arg(long, global = true, value_name = "FOLDER")]
    pub(crate) library: Option<PathBuf>,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Check a circuit file and report every mistake with its line and column.
    #[command(after_help = "Example:\n  probewise check van.toml")]
    Check(CheckArgs),
    /// Predict what instruments would show, healthy or with a fault.
    #[command(
        after_help = "Example:\n  probewise predict demo --set-up \"key on; S1 apart\" --test \"voltmeter S1.3\" --fault \"floor/water=1.5k\"\n\nWithout --test: a voltmeter from battery negative at every point in reach, and every scan value."
    )]
    Predict(PredictArgs),
    /// List what can break in a circuit.
    #[command(after_help = "Example:\n  probewise faults demo --json")]
    Faults(CircuitArgs),
    /// Give the suspects that readings leave.
    #[command(after_help = "Example:\n  probewise suspects demo --reading \"key on | scan pressure | 32.0 bar\"")]
    Suspects(ReadingsArgs),
    /// Propose the next tests.
    #[command(after_help = "Example:\n  probewise next demo --readings job.txt --now \"key on; S1 apart\"")]
    Next(NextArgs),
    /// Plan the next steps as a short tree: the next test, and for each thing it may show the one after it.
    #[command(
        after_help = "Example:\n  probewise plan demo --readings job.txt --steps 3\n\nExit code 1 if no further test pays."
    )]
    Plan(PlanArgs),
    /// Judge one intended test, jumper or substitute: can it hurt, can it tell anything?
    #[command(
        after_help = "Example:\n  probewise judge demo --set-up \"key on; jumper S1.3 battery-\" --test \"scan pressure\"\n\nExit code 1 if the test is refused."
    )]
    Judge(JudgeArgs),
    /// Tell why a fault is suspected: what each reading says of it, and the assumption it leans on most.
    #[command(
        after_help = "Example:\n  probewise why demo floor/water --reading \"key on; S1 apart; fan commanded | voltmeter S1.3 | 10.4 V\""
    )]
    Why(WhyArgs),
    /// Count the solved jobs of a folder: how often each kind of fault was the cause, and what that makes of its rate.
    #[command(
        after_help = "Example:\n  probewise learn\n  probewise suspects demo --learnt ~/.local/share/probewise/learnt.json\n\nWrites learnt.json beside the jobs. Jobs count whose repair is proved by readings after it."
    )]
    Learn(LearnArgs),
    /// Prove a repair: which readings prove it, within which bands, and what may still be wrong then.
    #[command(
        after_help = "Example:\n  probewise proof demo --readings job.txt --repaired floor/water --since \"key on; fan commanded | scan pressure | 8.1 bar\"\n\nExit code 1 if the readings since the repair refute it. Of a job file the repairs noted in it count."
    )]
    Proof(ProofArgs),
    /// Write a job up: for the customer in plain words, or for the file with every reading.
    #[command(
        after_help = "Example:\n  probewise write-up van-31.job --for customer --out van-31.pdf\n  probewise write-up van-31.job --for technician --out van-31.html --utc-offset +01:00\n\nA job that is not finished says so. It may be open on the page meanwhile."
    )]
    WriteUp(WriteUpArgs),
    /// Say what trouble codes mean, and what several of them have in common.
    #[command(
        after_help = "Example:\n  probewise code P0122 P0193-13\n\nAlso with the failure type (P0122-13), or as the bytes that a module sends (\"01 22\")."
    )]
    Code(CodeArgs),
    /// List ready-made circuits, or those that codes and words ask for.
    #[command(
        after_help = "Example:\n  probewise archetypes P0122 \"oil pressure\"\n\nA file of your own with a table [archetype] works like a built-in one: --folder."
    )]
    Archetypes(ArchetypesArgs),
    /// Show what a ready-made circuit asks, or several that are to become one.
    #[command(after_help = "Example:\n  probewise questions position-track")]
    Questions(QuestionsArgs),
    /// Write answers into a ready-made circuit; several circuits, ready made or not, become one.
    #[command(
        visible_alias = "combine",
        after_help = "Example:\n  probewise fill position-track signal=12 reference=11 signal-colour=green/red > van.toml\n\nInstead of a question a part may stand, which then gets another name: C1=X5. What is not answered stays as it is."
    )]
    Fill(FillArgs),
    /// Say what the bytes of scan data mean, or which bytes a value would be.
    #[command(
        after_help = "Example:\n  probewise data 0C 1AF8\n  probewise data 05 --value -40\n\nWithout bytes and value: what the PID can say."
    )]
    Data(DataArgs),
    /// Check a vehicle identification number: characters, check digit, model year.
    #[command(after_help = "Example:\n  probewise vin 1M8GDM9AXKP042788")]
    Vin(VinArgs),
    /// Read a table of readings or a log from any tool (CSV), say what its columns are and what is odd in it.
    #[command(
        after_help = "Example:\n  probewise log drive.csv\n  pbpaste | probewise log -\n\nTabs, semicolons or commas; decimal point or comma; times as seconds or by the clock."
    )]
    Log(LogArgs),
    /// Export a SPICE netlist of a circuit in a set-up, healthy or broken.
    #[command(after_help = "Example:\n  probewise spice demo --set-up \"key on; fan commanded\" > van.cir")]
    Spice(SpiceArgs),
    /// Draw the wiring as SVG.
    #[command(after_help = "Example:\n  probewise draw demo --set-up \"S1 apart\" > van.svg")]
    Draw(DrawArgs),
    /// Solve a bare network given as JSON (a file, or - for standard input).
    #[command(
        after_help = "Example:\n  echo '{\"elements\":[{\"name\":\"V1\",\"type\":\"V\",\"nodes\":[\"a\",\"0\"],\"value\":5},{\"name\":\"R1\",\"type\":\"R\",\"nodes\":[\"a\",\"0\"],\"value\":1000}]}' | probewise solve -"
    )]
    Solve(SolveArgs),
    /// Let another program play the vehicle: JSON lines in and out until the conclusion.
    #[command(
        after_help = "Example:\n  echo '{\"reading\":{\"set_up\":\"key on\",\"test\":\"scan pressure\",\"shown\":\"32.0 bar\"}}' | probewise play demo"
    )]
    Play(PlayArgs),
    /// Keep circuits in the shop's own library, by group of vehicles, and begin jobs from them.
    #[command(
        after_help = "Example:\n  probewise library add van.toml --group \"delivery van\" --name pressure\n  probewise serve \"library:delivery van/pressure\"\n\nA version is never overwritten: what changed is the next one. Older ones: library:GROUP/NAME@NUMBER."
    )]
    Library(LibraryArgs),
    /// Serve the jobs of the shop with a list of them; or the page of one job: a circuit's new one, or one kept before.
    #[command(
        after_help = "Examples:\n  probewise serve\n  probewise serve --folder jobs\n  probewise serve van.toml --job van-31.job"
    )]
    Serve(ServeArgs),
    /// The demo job on the command line: its readings, what is left, what to measure next.
    #[command(after_help = "Example:\n  probewise demo --json")]
    Demo(DemoArgs),
    /// Try the reasoning on vehicles drawn at random: how often it is right, how sure, how long, and what it costs.
    #[command(
        after_help = "Example:\n  probewise trials --jobs 340 --seed 1 --strategy product --strategy fixed-order --plots plots\n\nCircuits, vehicles, strategies and figures: docs/trials.md."
    )]
    Trials(TrialsArgs),
    /// Print completions for a shell.
    #[command(
        after_help = "Example:\n  probewise completions bash > ~/.local/share/bash-completion/completions/probewise"
    )]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

/// A circuit to check.
#[derive(Debug, ClapArgs)]
pub(crate) struct CheckArgs {
    #[command(flatten)]
    pub(crate) circuit: CircuitArgs,
}

/// A circuit.
#[derive(Debug, ClapArgs)]
pub(crate) struct CircuitArgs {
    /// Circuit file, or `demo`.
    pub(crate) circuit: String,
    /// Print JSON (shapes: docs/command-line.md).
    #[arg(long)]
    pub(crate) json: bool,
}

/// A set-up and a fault.
#[derive(Debug, ClapArgs)]
pub(crate) struct BrokenArgs {
    /// How the vehicle stands: "key on; S1 apart; fan commanded".
    #[arg(long, default_value = "key on")]
    pub(crate) set_up: String,
    /// A fault as `faults` names it, with its severity after `=`. May be given twice.
    #[arg(long = "fault", value_name = "FAULT[=SEVERITY]")]
    pub(crate) faults: Vec<String>,
}

/// What to predict.
#[derive(Debug, ClapArgs)]
pub(crate) struct PredictArgs {
    #[command(flatten)]
    pub(crate) circuit: CircuitArgs,
    #[command(flatten)]
    pub(crate) broken: BrokenArgs,
    /// Instrument and place: "voltmeter S1.3 battery-". May be repeated.
    #[arg(long = "test")]
    pub(crate) tests: Vec<String>,
}

/// Readings so far.
#[derive(Debug, ClapArgs)]
pub(crate) struct ReadingsArgs {
    #[command(flatten)]
    pub(crate) circuit: CircuitArgs,
    /// A reading as "set-up | test | value", "twin | set-up | test | value" for one of a sound vehicle of the same kind, or
    /// what was done ("reseated S1"). May be repeated, in the order in which it happened.
    #[arg(long = "reading")]
    pub(crate) readings: Vec<String>,
    /// File with one reading or deed a line; `#` starts a comment.
    #[arg(long = "readings", value_name = "FILE")]
    pub(crate) file: Option<PathBuf>,
    /// Trouble codes as they were found, with state and when: "P0122, P0335 pending, P0340 history (81 200 km)". One that the
    /// circuit has no check for is told.
    #[arg(long = "code", value_name = "CODES")]
    pub(crate) codes: Vec<String>,
    /// Id of a part replaced in vain. May be repeated.
    #[arg(long = "replaced", value_name = "PART")]
    pub(crate) replaced: Vec<String>,
    /// Id of an accessory fitted later, or of a part at which one was fitted or tapped in. May be repeated.
    #[arg(long = "accessory", value_name = "PART")]
    pub(crate) accessories: Vec<String>,
    /// Id of a part lately disturbed by other work. May be repeated.
    #[arg(long = "disturbed", value_name = "PART")]
    pub(crate) disturbed: Vec<String>,
    /// Water came in.
    #[arg(long)]
    pub(crate) water: bool,
    /// There was an accident.
    #[arg(long)]
    pub(crate) accident: bool,
    /// Whether the complaint comes and goes, where that was said.
    #[arg(long, value_name = "YES|NO", value_parser = by_name([("yes", true), ("no", false)]))]
    pub(crate) comes_and_goes: Option<bool>,
    /// File of `learn`: rates as the shop's own jobs have them. The built-in ones if left out.
    #[arg(long, value_name = "FILE")]
    pub(crate) learnt: Option<PathBuf>,
}

/// What to propose.
#[derive(Debug, ClapArgs)]
pub(crate) struct NextArgs {
    #[command(flatten)]
    pub(crate) readings: ReadingsArgs,
    /// How the vehicle stands now; the last reading's set-up if left out.
    #[arg(long)]
    pub(crate) now: Option<String>,
    /// How many proposals.
    #[arg(long, default_value_t = 3, value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(1..))]
    pub(crate) count: usize,
    #[command(flatten)]
    pub(crate) money: MoneyArgs,
    /// File with the only tests on offer, one "set-up | test" a line.
    #[arg(long, value_name = "FILE")]
    pub(crate) offer: Option<PathBuf>,
}

/// The shop's money.
#[derive(Debug, ClapArgs)]
pub(crate) struct MoneyArgs {
    /// What an hour of work costs.
    #[arg(long, value_name = "MONEY", default_value_t = 90.0, value_parser = amount)]
    pub(crate) rate: f64,
    /// What the customer has agreed to; no limit if left out.
    #[arg(long, value_name = "MONEY", value_parser = amount)]
    pub(crate) authorised: Option<f64>,
}

impl MoneyArgs {
    /// The shop's figures with these.
    pub(crate) fn costs(&self) -> Costs {
        Costs {
            rate_per_hour: self.rate,
            authorised: self.authorised,
            ..Costs::default()
        }
    }
}

/// An amount of money.
fn amount(text: &str) -> Result<f64, String> {
    let amount: f64 = text
        .trim()
        .parse()
        .map_err(|_not_a_number| "an amount is a number, as in 250".to_owned())?;
    job::state::agreed(amount).map_err(|_too_little| "an amount is 0 or more".to_owned())
}

/// What to plan.
#[derive(Debug, ClapArgs)]
pub(crate) struct PlanArgs {
    #[command(flatten)]
    pub(crate) readings: ReadingsArgs,
    /// How the vehicle stands now; the last reading's set-up if left out.
    #[arg(long)]
    pub(crate) now: Option<String>,
    #[command(flatten)]
    pub(crate) money: MoneyArgs,
    /// Steps one after the other, 1 to 4.
    #[arg(long, default_value_t = 2, value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(1..=4))]
    pub(crate) steps: usize,
}

/// What to judge.
#[derive(Debug, ClapArgs)]
pub(crate) struct JudgeArgs {
    #[command(flatten)]
    pub(crate) readings: ReadingsArgs,
    /// How the vehicle would stand, jumpers and substitutes included.
    #[arg(long, default_value = "key on")]
    pub(crate) set_up: String,
    /// Instrument and place: "light S1.3".
    #[arg(long)]
    pub(crate) test: String,
}

/// A suspect to be explained.
#[derive(Debug, ClapArgs)]
pub(crate) struct WhyArgs {
    #[command(flatten)]
    pub(crate) readings: ReadingsArgs,
    /// The fault, as `faults` names it; the likeliest suspect if left out.
    #[arg(value_name = "FAULT")]
    pub(crate) suspect: Option<String>,
}

/// Codes to explain.
#[derive(Debug, ClapArgs)]
pub(crate) struct CodeArgs {
    /// A code. May be repeated.
    #[arg(required = true, value_name = "CODE")]
    pub(crate) codes: Vec<String>,
    /// A circuit: which of its checks sets each code, or that none does.
    #[arg(long, value_name = "CIRCUIT")]
    pub(crate) circuit: Option<String>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Scan data to read or write.
#[derive(Debug, ClapArgs)]
pub(crate) struct DataArgs {
    /// The PID, two hexadecimal digits.
    pub(crate) pid: String,
    /// Its data bytes, without service and PID.
    pub(crate) bytes: Option<String>,
    /// A value in the PID's unit: the nearest bytes are given.
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true, conflicts_with = "bytes")]
    pub(crate) value: Option<f64>,
    /// Which value of a PID that has several; all of them, or the first with --value, if left out.
    #[arg(long, value_name = "NAME")]
    pub(crate) field: Option<String>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Where ready-made circuits are looked for.
#[derive(Debug, ClapArgs)]
pub(crate) struct ReadyArgs {
    /// Folder with ready-made circuits of your own, beside the built-in ones; its names come first.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) folder: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// What is looked for.
#[derive(Debug, ClapArgs)]
pub(crate) struct ArchetypesArgs {
    /// Trouble codes, or words of the complaint; all are listed if left out.
    pub(crate) words: Vec<String>,
    #[command(flatten)]
    pub(crate) ready: ReadyArgs,
}

/// What is asked.
#[derive(Debug, ClapArgs)]
pub(crate) struct QuestionsArgs {
    /// Names of ready-made circuits, or files.
    #[arg(required = true)]
    pub(crate) circuits: Vec<String>,
    #[command(flatten)]
    pub(crate) ready: ReadyArgs,
}

/// What is filled.
#[derive(Debug, ClapArgs)]
pub(crate) struct FillArgs {
    /// Names of ready-made circuits, or circuit files, then answers as `question=answer`.
    #[arg(required = true, value_name = "CIRCUIT|QUESTION=ANSWER")]
    pub(crate) circuits_and_answers: Vec<String>,
    #[command(flatten)]
    pub(crate) ready: ReadyArgs,
}

/// The shop's library.
#[derive(Debug, ClapArgs)]
pub(crate) struct LibraryArgs {
    #[command(subcommand)]
    pub(crate) command: LibraryCommand,
    /// Folder of the library; one beside the jobs of `serve` if left out.
    #[arg(long, global = true, value_name = "FOLDER")]
    pub(crate) folder: Option<PathBuf>,
    /// Print JSON.
    #[arg(long, global = true)]
    pub(crate) json: bool,
}

/// What to do with the library.
#[derive(Debug, Subcommand)]
pub(crate) enum LibraryCommand {
    /// List every version of every circuit.
    List,
    /// Keep a circuit, with what it includes, as the newest version.
    Add {
        /// Circuit file, or `demo`.
        circuit: String,
        /// Group of vehicles.
        #[arg(long)]
        group: String,
        /// The circuit's name in the library.
        #[arg(long)]
        name: String,
        /// Day of the version, as 2026-11-26; today if left out.
        #[arg(long)]
        date: Option<String>,
    },
    /// Copy circuits into another folder, for another shop.
    Export {
        /// The folder; made if it is not there.
        to: PathBuf,
        /// GROUP/NAME; everything if left out.
        circuit: Option<String>,
    },
    /// Take over circuits from a folder that another shop exported.
    Import {
        /// The folder.
        from: PathBuf,
        /// GROUP/NAME; everything if left out.
        circuit: Option<String>,
    },
}

/// A log to read.
#[derive(Debug, ClapArgs)]
pub(crate) struct LogArgs {
    /// File, or `-`.
    pub(crate) file: String,
    /// The vehicle's circuit (a file, `library:GROUP/NAME` or `demo`): columns are matched to its modules' values, and what
    /// contradicts it is told.
    #[arg(long, value_name = "CIRCUIT")]
    pub(crate) circuit: Option<String>,
    /// How the vehicle stood.
    #[arg(long, value_name = "SET-UP", requires = "circuit", default_value = "key running")]
    pub(crate) set_up: String,
    /// A column that is not named like the circuit's value: `NAME=VALUE`, e.g. "TPS=throttle". May be given several times.
    #[arg(long, value_name = "NAME=VALUE", requires = "circuit")]
    pub(crate) column: Vec<String>,
    /// Print only the readings that it makes, one a line, for `--readings`.
    #[arg(long, requires = "circuit", conflicts_with = "json")]
    pub(crate) as_readings: bool,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// What to export.
#[derive(Debug, ClapArgs)]
pub(crate) struct SpiceArgs {
    #[command(flatten)]
    pub(crate) circuit: CircuitArgs,
    #[command(flatten)]
    pub(crate) broken: BrokenArgs,
}

/// What to draw.
#[derive(Debug, ClapArgs)]
pub(crate) struct DrawArgs {
    #[command(flatten)]
    pub(crate) circuit: CircuitArgs,
    /// How the vehicle stands.
    #[arg(long, default_value = "key on")]
    pub(crate) set_up: String,
}

/// A bare network.
#[derive(Debug, ClapArgs)]
pub(crate) struct SolveArgs {
    /// File, or `-`.
    pub(crate) file: String,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// Another program plays the vehicle.
#[derive(Debug, ClapArgs)]
pub(crate) struct PlayArgs {
    /// Circuit file, or `demo`.
    pub(crate) circuit: String,
    /// File with the only tests on offer, one "set-up | test" a line.
    #[arg(long, value_name = "FILE")]
    pub(crate) offer: Option<PathBuf>,
}

/// The page.
#[derive(Debug, Default, ClapArgs)]
pub(crate) struct ServeArgs {
    /// Circuit file, or `demo`, of one job that is served alone; not needed for one kept before.
    pub(crate) circuit: Option<String>,
    /// Folder of the shop's jobs; the usual one if left out.
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["circuit", "job"])]
    pub(crate) folder: Option<PathBuf>,
    /// Begin a new job on the page: from trouble codes and words, or with a circuit of the shop's library.
    #[arg(long, conflicts_with_all = ["circuit", "job"])]
    pub(crate) choose: bool,
    /// The job's file; made if it is not there.
    #[arg(long, value_name = "FILE")]
    pub(crate) job: Option<PathBuf>,
    /// Port; 0 takes any free one.
    #[arg(long, default_value_t = 7341)]
    pub(crate) port: u16,
    /// Address of this machine at which phones find it; may be repeated; all in private networks if left out.
    #[arg(long, value_name = "ADDRESS", conflicts_with_all = ["circuit", "job", "choose"])]
    pub(crate) network_address: Vec<std::net::IpAddr>,
    /// The shop's own certificate with what it hangs on, PEM, by which phones trust this machine.
    #[arg(long, value_name = "FILE", requires_all = ["key", "name"], conflicts_with_all = ["circuit", "job", "choose"])]
    pub(crate) certificate: Option<PathBuf>,
    /// The certificate's key, PEM.
    #[arg(long, value_name = "FILE", requires = "certificate")]
    pub(crate) key: Option<PathBuf>,
    /// The name in the network that the certificate is made out to: `bench.shop`.
    #[arg(long, value_name = "NAME", requires = "certificate")]
    pub(crate) name: Option<String>,
    /// Leave the shop's own solved jobs out: the built-in rates count.
    #[arg(long)]
    pub(crate) no_learning: bool,
    /// Open the page in a browser.
    #[arg(long)]
    pub(crate) open: bool,
}

/// The demo job.
#[derive(Debug, ClapArgs)]
pub(crate) struct DemoArgs {
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

/// What to try.
#[derive(Debug, ClapArgs)]
pub(crate) struct TrialsArgs {
    /// Circuit file. May be repeated; without it the built-in ones are taken.
    #[arg(long = "circuit", value_name = "FILE")]
    pub(crate) circuits: Vec<String>,
    /// Vehicles in all, the circuits in turn.
    #[arg(long, default_value_t = 340, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    pub(crate) jobs: u64,
    /// Everything drawn follows from it.
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// How tests are chosen. May be repeated; without it the product's way alone.
    #[arg(long = "strategy", value_name = "NAME", value_parser = by_name(Strategy::ALL.map(|one| (one.name(), one))))]
    pub(crate) strategies: Vec<Strategy>,
    /// Make each circuit a small table of as many vehicles (128 at most) and solve it exactly: what the best search costs,
    /// and what the product's way and others cost beside it.
    #[arg(long, conflicts_with_all = ["strategies", "differs", "plots"])]
    pub(crate) optimum: bool,
    /// With --optimum: tests on offer in each table, 1 to 12.
    #[arg(long, default_value_t = 8, requires = "optimum", value_parser = clap::builder::RangedU64ValueParser::<usize>::new().range(1..=12))]
    pub(crate) tests: usize,
    /// How the vehicles differ from their circuit files.
    #[arg(long, value_name = "HOW", value_parser = by_name(Differs::ALL.map(|one| (one.name(), one))))]
    pub(crate) differs: Option<Differs>,
    /// Cores to work on; all of them if left out.
    #[arg(long)]
    pub(crate) threads: Option<usize>,
    /// Print JSON, every search included.
    #[arg(long)]
    pub(crate) json: bool,
    /// Folder for plots as SVG; made if it is not there.
    #[arg(long, value_name = "FOLDER")]
    pub(crate) plots: Option<PathBuf>,
}

/// Takes one of these names.
pub(crate) fn by_name<T: Copy + Send + Sync + 'static, const N: usize>(
    all: [(&'static str, T); N],
) -> impl TypedValueParser<Value = T> {
    PossibleValuesParser::new(all.map(|one| one.0)).try_map(move |name| {
        let found = all.iter().find(|one| one.0 == name);
        found.map(|one| one.1).ok_or("no such name")
    })
}
