//! Who of the shop's network may come in: one invitation at a time, and the devices that took one.
//!
//! Secrets and passes are kept as digests alone, so that neither memory nor file holds what lets anybody in.

use std::fmt::Write as _;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// How long an invitation stands, milliseconds.
pub(super) const INVITED_MS: u64 = 10 * 60_000;
/// So many wrong secrets withdraw it: nobody types one, and a guess is hopeless anyway.
const MOST_WRONG: u32 = 20;
/// When a device was last here is noted to within this, milliseconds.
const SEEN_MS: u64 = 60_000;
/// Letters of what a device calls itself.
const NAME_LETTERS: usize = 40;

/// A device that may come in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Device {
    /// Tells it from others of the same name; public.
    pub(super) id: String,
    /// What it is: "phone".
    pub(super) name: String,
    /// Digest of its pass, hexadecimal.
    pass: String,
    pub(super) since_ms: u64,
    pub(super) seen_ms: u64,
}

#[derive(Clone, Debug)]
struct Invitation {
    secret: String,
    until_ms: u64,
    wrong: u32,
}

/// Why nobody is let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refused {
    /// No invitation stands, or it was used.
    NoneStands,
    /// Its time is over.
    TooLate,
    /// It is another.
    Wrong,
}

/// See the module.
#[derive(Clone, Debug, Default)]
pub(super) struct Passes {
    invitation: Option<Invitation>,
    pub(super) devices: Vec<Device>,
}

fn digest(secret: &str) -> String {
    hex(&Sha256::digest(secret.as_bytes()))
}

/// Hexadecimal.
pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

impl Passes {
    pub(super) fn of(devices: Vec<Device>) -> Self {
        Self {
            invitation: None,
            devices,
        }
    }

    /// Lets one device in that knows the secret; takes the place of an invitation before.
    pub(super) fn invite(&mut self, secret: &str, now_ms: u64) {
        self.invitation = Some(Invitation {
            secret: digest(secret),
            until_ms: now_ms + INVITED_MS,
            wrong: 0,
        });
    }

    /// Takes the invitation for a device that will show `pass`.
    pub(super) fn join(
        &mut self,
        secret: &str,
        (id, name, pass): (&str, &str, &str),
        now_ms: u64,
    ) -> Result<(), Refused> {
        let Some(invitation) = &mut self.invitation else {
            return Err(Refused::NoneStands);
        };
        if now_ms > invitation.until_ms {
            self.invitation = None;
            return Err(Refused::TooLate);
        }
        if invitation.secret != digest(secret) {
            invitation.wrong += 1;
            if invitation.wrong >= MOST_WRONG {
                self.invitation = None;
            }
            return Err(Refused::Wrong);
        }
        self.invitation = None;
        let name: String = name.chars().filter(|c| !c.is_control()).take(NAME_LETTERS).collect();
        self.devices.push(Device {
            id: id.to_owned(),
            name,
            pass: digest(pass),
            since_ms: now_ms,
            seen_ms: now_ms,
        });
        Ok(())
    }

    /// Whether this pass lets in, and whether the time that its device was here is noted anew.
    pub(super) fn knows(&mut self, pass: &str, now_ms: u64) -> (bool, bool) {
        let pass = digest(pass);
        let Some(device) = self.devices.iter_mut().find(|device| device.pass == pass) else {
            return (false, false);
        };
        let is_later = now_ms >= device.seen_ms + SEEN_MS;
        if is_later {
            device.seen_ms = now_ms;
        }
        (true, is_later)
    }

    /// Takes a device's pass away. False if there is none of this id.
    pub(super) fn forget(&mut self, id: &str) -> bool {
        let before = self.devices.len();
        self.devices.retain(|device| device.id != id);
        self.devices.len() < before
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PHONE: (&str, &str, &str) = ("a", "phone", "its pass");

    #[test]
    fn an_invitation_is_good_for_one_device() {
        let mut passes = Passes::default();
        assert_eq!(passes.join("s", PHONE, 0), Err(Refused::NoneStands));
        passes.invite("s", 0);
        assert_eq!(passes.join("t", PHONE, 1), Err(Refused::Wrong));
        assert_eq!(passes.join("s", PHONE, 1), Ok(()));
        assert_eq!(passes.join("s", ("b", "phone", "other"), 2), Err(Refused::NoneStands));
        assert_eq!(passes.knows("its pass", 2), (true, false));
        assert_eq!(passes.knows("other", 2), (false, false));
        assert_eq!(passes.knows("its pass", 2 + SEEN_MS), (true, true));
        assert!(passes.forget("a") && !passes.forget("a"));
        assert_eq!(passes.knows("its pass", 3), (false, false));
    }

    #[test]
    fn it_ends_with_its_time_with_the_next_and_with_guessing() {
        let mut passes = Passes::default();
        passes.invite("s", 0);
        assert_eq!(passes.join("s", PHONE, INVITED_MS + 1), Err(Refused::TooLate));
        passes.invite("s", 0);
        passes.invite("t", 0);
        assert_eq!(passes.join("s", PHONE, 1), Err(Refused::Wrong));
        for _ in 1..MOST_WRONG {
            assert_eq!(passes.join("guess", PHONE, 1), Err(Refused::Wrong));
        }
        assert_eq!(passes.join("t", PHONE, 1), Err(Refused::NoneStands));
    }

    #[test]
    fn nothing_that_lets_in_is_kept() {
        let mut passes = Passes::default();
        passes.invite("the secret", 0);
        passes.join("the secret", PHONE, 0).unwrap();
        let kept = format!("{passes:?}");
        assert!(!kept.contains("the secret") && !kept.contains("its pass"), "{kept}");
    }
}
