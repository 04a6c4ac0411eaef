//! The live page: shown until any key is pressed, over a wire that may go and come back.
//!
//! Promises: nothing but requests and heartbeats is sent; a lost link is said on the page and waited for; whatever
//! ends the course, the page ends with it. A session that may write is latched by a link lost on the page, as
//! anywhere else. Must not be here: what stands on the page (see `page`), how it looks.

use super::staleness::{OfLate, Words};
use crate::bench::attended::{Connected, nobody, several};
use crate::bench::operations::settings::ALIVE;
use crate::bench::session::Inquiry;
use crate::bench::session::context::{SessionContext, capital};
use crate::board::identity;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::signals::{Identity, Stream};
use crate::interlock::Phase;
use crate::interlock::guards::RATES;
use crate::measure::time::Time;
use crate::seam::PortName;
use crate::seam::fault::Fault;
use crate::seam::page::{Page, SHOWN_AGE, SILENT_AFTER, SheetSeen, Title};
use crate::seam::ui::UiEvent;
use std::cell::{Cell, RefCell};
use std::convert::Infallible;
use std::future::Future;
use std::pin::pin;
use std::rc::Rc;
use std::task::Poll;
use std::time::Duration;

/// How often the page is drawn.
pub const EVERY: Duration = Duration::from_millis(80);
/// How long a port is looked for at once; then again.
const LOOKED_FOR: Duration = Duration::from_secs(30);
/// Longest time for putting streams back at the end.
const PUT_BACK: Duration = Duration::from_secs(3);
/// Rates of a command that only looks, in hertz: enough for the eye.
const LOOKING: &[(Stream, u32)] = &[
    (Stream::Alive, 5),
    (Stream::Channels, 20),
    (Stream::Outputs, 20),
    (Stream::Attitude, 20),
    (Stream::Power, 5),
    (Stream::Speeds, 10),
];

/// What a command that only looks is given.
#[derive(Debug, Default)]
pub struct Looking {
    /// Radio card, for the names of switches.
    pub card: Option<RadioCard>,
    /// Sheets to choose from.
    pub sheets: Vec<Sheet>,
    /// Whether a sheet was named: one that is not for the board is then an error.
    pub named: bool,
}

/// Shows the page within a session whose board is known, until a key comes.
///
/// # Errors
/// The link was lost meanwhile, so that nothing may be written any more; or another board answers.
pub async fn watch(bench: &SessionContext, title: &Title, card: Option<&RadioCard>) -> Result<(), Fault> {
    let keep = async {
        loop {
            gone_and_back(bench).await;
            learn(bench, RATES, None).await?;
        }
    };
    let latched = bench.phase() == Phase::Latched;
    stand(bench, title, card, &Cell::new(true), keep).await?;
    if !latched && bench.phase() == Phase::Latched { Err(Fault::LinkLost) } else { Ok(()) }
}

/// Opens a port and shows the page until a key comes; then the streams are put back and the port is closed.
/// Works without any sheet, and on a board that is armed: it only looks.
///
/// # Errors
/// No port, nobody on it, a named sheet that is for another board, or another board later.
pub async fn look(bench: &SessionContext, port: &PortName, looking: &Looking) -> Result<(), Fault> {
    bench.open(port.clone()).await?;
    let alive = bench.until(bench.now() + ALIVE, |b| b.look(|live| live.armed.last())).await;
    alive.ok_or_else(|| nobody(bench, port))?;
    let title = Title { craft: None, port: port.to_string() };
    let learned = Cell::new(false);
    let keep = async {
        loop {
            learn(bench, LOOKING, Some(looking)).await?;
            learned.set(true);
            gone_and_back(bench).await;
        }
    };
    let several = async {
        match bench.until(Time::NEVER, |b| b.look(|live| several(live, port))).await {
            Some(fault) => Err(fault),
            None => std::future::pending().await,
        }
    };
    let ended = stand(bench, &title, looking.card.as_ref(), &learned, either(keep, several)).await;
    leave(bench).await;
    ended
}

/// Puts the streams back, for no longer than it is worth, and closes the port.
pub async fn leave(bench: &SessionContext) {
    if bench.link_up() {
        // Either way there is nothing more to do.
        either(bench.put_streams_back(), bench.sleep(PUT_BACK)).await;
    }
    bench.close();
}

/// Ends with the first of two that ends.
async fn either<T>(one: impl Future<Output = T>, other: impl Future<Output = T>) -> T {
    let (mut one, mut other) = (pin!(one), pin!(other));
    std::future::poll_fn(|context| match one.as_mut().poll(context) {
        Poll::Ready(ended) => Poll::Ready(ended),
        Poll::Pending => other.as_mut().poll(context),
    })
    .await
}

/// The page on the screen; dropped, it is left.
struct Standing<'b> {
    bench: &'b SessionContext,
    words: RefCell<Words>,
}

impl<'b> Standing<'b> {
    fn open(bench: &'b SessionContext) -> Self {
        let who = bench.interlock().who().cloned();
        let mut monitor = bench.monitor();
        monitor.opens();
        monitor.board = monitor.board.take().or(who);
        drop(monitor);
        Self { bench, words: RefCell::default() }
    }

    fn page(&self, title: &Title, card: Option<&RadioCard>, of_late: &mut OfLate) -> Page {
        let (bench, now) = (self.bench, self.bench.now());
        let sheet = bench.sheet();
        let lost = bench.monitor().lost;
        let listing = bench.news().listing;
        let mut page = bench.look(|live| Page::build(live, now, (lost, listing), title, sheet.as_deref(), card));
        let mut words = self.words.borrow_mut();
        words.take(now, &mut bench.news().texts);
        page.said = words.said(now);
        page.loss = of_late.loss(now, bench.news().frames);
        page
    }
}

impl Drop for Standing<'_> {
    fn drop(&mut self) {
        self.bench.monitor().closes();
        // What the board said meanwhile is still told below the page, where nothing wipes it away.
        self.words.borrow_mut().give_back(&mut self.bench.news().texts);
        self.bench.show(UiEvent::PageEnds);
    }
}

/// Shows the page until a key comes or `keep` fails.
async fn stand(
    bench: &SessionContext,
    title: &Title,
    card: Option<&RadioCard>,
    learned: &Cell<bool>,
    keep: impl Future<Output = Result<Infallible, Fault>>,
) -> Result<(), Fault> {
    let standing = Standing::open(bench);
    let draw = async {
        let mut of_late = OfLate::default();
        loop {
            let due = bench.now() + EVERY;
            let mut page = standing.page(title, card, &mut of_late);
            if page.sheet == SheetSeen::None && !learned.get() {
                page.sheet = SheetSeen::Asking;
            }
            bench.show(UiEvent::Page(Box::new(page)));
            if bench.until(due, |bench| bench.monitor().pressed.then_some(())).await.is_some() {
                return Ok(());
            }
        }
    };
    let keep = async {
        match keep.await {
            Ok(never) => match never {},
            Err(fault) => Err(fault),
        }
    };
    either(draw, keep).await
}

/// Waits until the link goes away or falls silent, and then until signs of life come again.
async fn gone_and_back(bench: &SessionContext) {
    let gone = |bench: &SessionContext| {
        let now = bench.now();
        let silent = bench.look(|live| live.armed.fresh(now, SILENT_AFTER)).is_none();
        (silent || !bench.link_up()).then_some(())
    };
    bench.until(Time::NEVER, gone).await;
    loop {
        if !bench.link_up() {
            if bench.reopen(LOOKED_FOR).await.is_err() {
                bench.sleep(Duration::from_millis(100)).await;
                continue;
            }
            bench.monitor().lost = None;
        }
        let heard = |bench: &SessionContext| {
            let now = bench.now();
            let alive = bench.look(|live| live.armed.fresh(now, SHOWN_AGE)).is_some();
            (alive || !bench.link_up()).then_some(alive)
        };
        if bench.until(Time::NEVER, heard).await == Some(true) {
            return;
        }
    }
}

/// Asks for the streams, who the board is and, where a sheet is or may be for it, for its settings.
/// What a board does not give is left out of the page, and nothing of it is an error.
async fn learn(bench: &SessionContext, rates: &[(Stream, u32)], looking: Option<&Looking>) -> Result<(), Fault> {
    let known = bench.monitor().board.clone();
    // A board that comes back is asked first who it is: another is asked for nothing.
    let mut identity = if known.is_some() { who(bench).await } else { None };
    if let (Some(was), Some(now)) = (&known, &identity)
        && was.id != now.id
    {
        return Err(Fault::AnotherBoard { was: was.id.clone(), now: now.id.clone() });
    }
    for (stream, rate) in rates {
        let _not_given = bench.request(Inquiry::Stream(*stream, Some(*rate)), "asking for a stream").await;
    }
    if known.is_none() {
        identity = who(bench).await;
    }
    let Some(identity) = identity else { return Ok(()) };
    bench.monitor().board = Some(identity.clone());
    let sheet = bench.sheet().is_some();
    match looking {
        Some(looking) if !sheet => choose(bench, looking, identity).await,
        _ if sheet => {
            // A board that came back may hold other settings than before.
            let _as_before = bench.request(Inquiry::List, "reading all settings").await;
            Ok(())
        }
        _ => Ok(()),
    }
}

/// Who the board says that it is.
async fn who(bench: &SessionContext) -> Option<Identity> {
    let answered = bench.request(Inquiry::Identify, "asking who the board is").await;
    answered.ok().and_then(|()| bench.look(|live| live.identity.clone()))
}

/// Reads the settings and chooses the sheet, where one can be for a board of this kind.
async fn choose(bench: &SessionContext, looking: &Looking, identity: Identity) -> Result<(), Fault> {
    let may = |sheet: &&Sheet| looking.named || sheet.kind.as_ref().is_none_or(|kind| *kind == identity.kind);
    let sheets: Vec<Sheet> = looking.sheets.iter().filter(may).cloned().collect();
    if sheets.is_empty() {
        return Ok(());
    }
    let read = bench.request(Inquiry::List, "reading all settings").await;
    if let Err(fault) = read {
        return if looking.named && bench.link_up() { Err(fault) } else { Ok(()) };
    }
    let known = Connected { identity, settings: bench.look(|live| live.settings.clone()) };
    let fits = identity::choose(&sheets, &known.identity, &known.settings);
    match fits {
        Ok(sheet) => bench.take_facts(&sheet.board, &Rc::new(sheet.clone()), &known.identity),
        Err(error) if looking.named => Err(Fault::Plan(capital(&error.to_string()))),
        Err(_) => Ok(()),
    }
}
