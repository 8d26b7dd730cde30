//! What a worker sees. Requests and answers are bytes, everything else is JSON text: cheap to hand between threads.

use std::path::Path;

use sqlite_wasm_vfs::sahpool::{OpfsSAHPoolCfgBuilder, install};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::sync::Lane;
use tailcomb_core::time::{Clock, ClockReading};
use tailcomb_core::wire::lock::LockKey;
use wasm_bindgen::prelude::*;

use crate::clock::Sleepless;
use crate::seat::{Request, Seat, SeatError};

#[wasm_bindgen]
extern "C" {
    #[wasm_bindgen(js_namespace = performance, js_name = now)]
    fn steady_now() -> f64;
}

#[derive(Debug, Default)]
struct BrowserClock(Sleepless);

impl Clock for BrowserClock {
    #[allow(clippy::cast_possible_truncation, reason = "milliseconds since 1970 are far below 2^53")]
    fn read(&self) -> ClockReading {
        self.0.read(js_sys::Date::now() as i64, steady_now() as i64)
    }
}

/// A request for `fetch`.
#[wasm_bindgen]
pub struct Post {
    request: Request,
    link: String,
    photo: Vec<u8>,
}

#[wasm_bindgen]
impl Post {
    /// Of a photograph that is sent: its name, to be handed back with the answer.
    #[wasm_bindgen(getter)]
    pub fn photo(&self) -> Vec<u8> {
        self.photo.clone()
    }
    /// Last part of the path.
    #[wasm_bindgen(getter)]
    pub fn name(&self) -> String {
        self.request.name.to_owned()
    }
    /// To be handed back with the answer.
    #[wasm_bindgen(getter)]
    #[allow(clippy::cast_precision_loss, reason = "a count of requests")]
    pub fn ticket(&self) -> f64 {
        self.request.ticket as f64
    }
    /// How long to wait for the answer.
    #[wasm_bindgen(getter)]
    #[allow(clippy::cast_precision_loss, reason = "seconds")]
    pub fn timeout_ms(&self) -> f64 {
        self.request.timeout_ms as f64
    }
    /// Of an invitation: the link to show once the relay has answered.
    #[wasm_bindgen(getter)]
    pub fn link(&self) -> String {
        self.link.clone()
    }
    /// The body.
    pub fn body(&self) -> Vec<u8> {
        self.request.body.clone()
    }
}

impl From<Request> for Post {
    fn from(request: Request) -> Self {
        Self { request, link: String::new(), photo: Vec::new() }
    }
}

fn thrown(error: SeatError) -> JsValue {
    JsValue::from_str(&error.json())
}

fn lane(push: bool) -> Lane {
    if push { Lane::Push } else { Lane::Pull }
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "handed out by Post::ticket")]
fn ticket(number: f64) -> u64 {
    number as u64
}

/// The station of this origin. One worker at a time may hold it.
#[wasm_bindgen]
pub struct Core(Seat);

#[wasm_bindgen]
impl Core {
    /// Takes the origin's files and opens what is there. The station's secrets lie locked under `key`, 32 bytes that
    /// the browser keeps where nothing but this origin can use them.
    pub async fn open(directory: String, key: &[u8]) -> Result<Core, JsValue> {
        console_error_panic_hook::set_once();
        let pool = OpfsSAHPoolCfgBuilder::new().directory(&directory).initial_capacity(24).build();
        install::<sqlite_wasm_rs::WasmOsCallback>(&pool, true)
            .await
            .map_err(|e| thrown(SeatError::written("storage", e)))?;
        let key = <[u8; 32]>::try_from(key)
            .map(LockKey::from_bytes)
            .map_err(|_| thrown(SeatError::written("host", "a key has 32 bytes")))?;
        let store = move || {
            let mut store = Store::open(Path::new("station.db"), Durability::Full)
                .map_err(|e| SeatError::new("store", e.told()))?;
            store.lock_secrets(key.clone());
            Ok(store)
        };
        let clock = || -> Box<dyn Clock> { Box::new(BrowserClock::default()) };
        Seat::open(Box::new(store), Box::new(clock)).map(Core).map_err(thrown)
    }

    pub fn is_station(&self) -> bool {
        self.0.is_station()
    }
    pub fn device(&mut self) -> Result<String, JsValue> {
        self.0.device().map_err(thrown)
    }
    pub fn relay(&mut self) -> Result<String, JsValue> {
        self.0.relay().map_err(thrown)
    }
    pub fn found(&mut self, new: &str) -> Result<String, JsValue> {
        self.0.found(new).map_err(thrown)
    }
    pub fn join(&mut self, link: &str) -> Result<(), JsValue> {
        self.0.join(link).map_err(thrown)
    }
    pub fn recover(&mut self, words: &str, relay: &str) -> Result<(), JsValue> {
        self.0.recover(words, relay).map_err(thrown)
    }
    pub fn join_request(&self) -> Result<Post, JsValue> {
        self.0.join_request().map(Post::from).map_err(thrown)
    }
    pub fn join_answered(&mut self, answer: &[u8], name: &str) -> Result<bool, JsValue> {
        self.0.join_answered(answer, name).map_err(thrown)
    }
    pub fn call(&mut self, name: &str, arguments: &str) -> Result<String, JsValue> {
        self.0.call(name, arguments).map_err(thrown)
    }
    pub fn written(&self) -> String {
        self.0.written()
    }
    pub fn next_request(&mut self, push: bool, wait_ms: u32) -> Result<Option<Post>, JsValue> {
        Ok(self.0.next_request(lane(push), wait_ms).map_err(thrown)?.map(Post::from))
    }
    pub fn answered(&mut self, push: bool, number: f64, body: &[u8]) -> Result<String, JsValue> {
        self.0.answered(lane(push), ticket(number), body).map_err(thrown)
    }
    pub fn failed(&mut self, push: bool, number: f64, abandoned: bool) -> Result<String, JsValue> {
        self.0.failed(lane(push), ticket(number), abandoned).map_err(thrown)
    }
    #[allow(clippy::cast_precision_loss, reason = "minutes")]
    pub fn wait_before(&mut self, push: bool) -> Result<Option<f64>, JsValue> {
        Ok(self.0.wait_before(lane(push)).map_err(thrown)?.map(|ms| ms as f64))
    }
    pub fn try_at_once(&mut self) -> Result<(), JsValue> {
        self.0.try_at_once().map_err(thrown)
    }
    pub fn relay_knows(&mut self) -> Result<bool, JsValue> {
        self.0.relay_knows().map_err(thrown)
    }
    pub fn invite(&mut self) -> Result<Post, JsValue> {
        let (request, link) = self.0.invite().map_err(thrown)?;
        Ok(Post { link, ..Post::from(request) })
    }
    pub fn revoke_request(&mut self, device: &str) -> Result<Post, JsValue> {
        self.0.revoke_request(device).map(Post::from).map_err(thrown)
    }
    pub fn revoked(&mut self, device: &str, why: &str) -> Result<(), JsValue> {
        self.0.revoked(device, why).map_err(thrown)
    }
    pub fn keep_photo(
        &mut self,
        visit: &str,
        of: &str,
        note: &str,
        picture: &[u8],
    ) -> Result<String, JsValue> {
        self.0.keep_photo(visit, of, note, picture).map_err(thrown)
    }
    pub fn photo_here(&mut self, visit: &str, photo: &str) -> Result<Option<Vec<u8>>, JsValue> {
        self.0.photo_here(visit, photo).map_err(thrown)
    }
    pub fn fetch_photo(&mut self, visit: &str, photo: &str) -> Result<Post, JsValue> {
        self.0.fetch_photo(visit, photo).map(Post::from).map_err(thrown)
    }
    pub fn photo_fetched(&mut self, visit: &str, photo: &str, answer: &[u8]) -> Result<Vec<u8>, JsValue> {
        self.0.photo_fetched(visit, photo, answer).map_err(thrown)
    }
    pub fn next_photo(&mut self) -> Result<Option<Post>, JsValue> {
        let next = self.0.next_photo().map_err(thrown)?;
        Ok(next.map(|(request, hash)| Post { photo: hash.to_vec(), ..Post::from(request) }))
    }
    pub fn photo_answered(&mut self, photo: &[u8], answer: &[u8]) -> Result<(), JsValue> {
        self.0.photo_answered(photo, answer).map_err(thrown)
    }
    pub fn errand_answered(answer: &[u8]) -> Result<(), JsValue> {
        Seat::errand_answered(answer).map_err(thrown)
    }
    pub fn pause(&mut self) -> Result<(), JsValue> {
        self.0.pause().map_err(thrown)
    }
    pub fn resume(&mut self) -> Result<(), JsValue> {
        self.0.resume().map_err(thrown)
    }
}
