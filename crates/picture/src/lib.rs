//! Pictures of a circuit.
