//! The running service: built and bound to its port, then run until told to stop.

use std::future::Future;
use std::io;
use std::net::{SocketAddr, TcpListener};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use actix_web::dev::{Server, ServerHandle};
use actix_web::http::KeepAlive;
use actix_web::middleware::{Compress, DefaultHeaders, from_fn};
use actix_web::web::{self, Data};
use actix_web::{App as ActixApp, HttpServer};
use secrecy::SecretString;
use tokio::sync::oneshot;
use tracing_actix_web::TracingLogger;
use utoipa_actix_web::AppExt;

use crate::clock::Clock;
use crate::config::{Config, InventorySystem, Webhooks};
use crate::http::body::Limits;
use crate::http::connections::Connections;
use crate::http::customer::{self, Site};
use crate::http::deadline::{self, Deadline};
use crate::http::listening::Listeners;
use crate::http::metrics::{self, Metrics};
use crate::http::{self, access, etag, limits, middleware};
use crate::outbound::addresses::Listed;
use crate::outbound::inventory::{self, Inventory};
use crate::outbound::webhooks::{self, Sender};
use crate::service::Service;
use crate::store::{self, Store};
use crate::telemetry::RequestSpan;

/// Connections that wait for a thread to take them.
const BACKLOG: u32 = 1024;

/// How often the answers to old Idempotency-Keys are swept out.
const ANSWERS_FORGOTTEN_EVERY: Duration = Duration::from_secs(3600);

/// How often what was tried for webhooks is swept out.
const ATTEMPTS_FORGOTTEN_EVERY: Duration = Duration::from_secs(3600);

/// How often quotes whose last day is over are looked for. Nobody waits for it: whoever reads one sees it lapsed.
const LAPSED_EVERY: Duration = Duration::from_secs(60);

/// Why the service does not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The folder of the database's file cannot be made.
    #[error("the folder {0} cannot be made")]
    Folder(String, #[source] io::Error),
    /// The database cannot be used.
    #[error("the database {url} cannot be used")]
    Store {
        /// Its address without a password.
        url: String,
        /// Why.
        #[source]
        cause: store::Error,
    },
    /// The port is taken, or the address is none of this computer's.
    #[error("cannot listen on {0}")]
    Listen(SocketAddr, #[source] io::Error),
    /// The inventory system cannot be used as it is set.
    #[error(transparent)]
    Inventory(#[from] inventory::BadAddress),
}

/// More routes than the service has of itself: tests add one that panics.
pub type MoreRoutes = Arc<dyn Fn(&mut web::ServiceConfig) + Send + Sync>;

/// The service, bound to its port.
pub struct App {
    server: Server,
    handle: ServerHandle,
    address: SocketAddr,
    service: Service,
    metrics: Metrics,
    limits: Arc<limits::Limits>,
    shutdown_timeout: Duration,
}

/// Opens the database of the settings, and brings its schema up to date if they say so.
///
/// # Errors
/// When the database cannot be opened or changed.
pub async fn open(config: &Config, clock: &Clock) -> Result<Store, StartError> {
    make_folder(config.database.with_password())?;
    let failed = |cause| StartError::Store { url: config.database.to_string(), cause };
    let store = store::connect(config.database.with_password()).await.map_err(failed)?;
    if config.migrate_at_start {
        store.migrate(clock.now()).await.map_err(failed)?;
    }
    // A clock that was set back while the program was not running must not bring new quotes in among old ones. Without
    // a schema there are none.
    if let Ok(Some(last)) = store::quotes::last_id(&store).await {
        clock.begin_behind(last);
    }
    Ok(store)
}

/// Makes the folder of a SQLite file that may be made.
fn make_folder(url: &str) -> Result<(), StartError> {
    let Some(file) = url.strip_prefix("sqlite://").and_then(|rest| rest.strip_suffix("?mode=rwc")) else {
        return Ok(());
    };
    match Path::new(file).parent() {
        Some(folder) if !folder.as_os_str().is_empty() => {
            std::fs::create_dir_all(folder).map_err(|error| StartError::Folder(folder.display().to_string(), error))
        }
        _ => Ok(()),
    }
}

/// Builds the service of the settings and binds it to its port.
///
/// # Errors
/// When the database cannot be used or the port is taken.
pub async fn build(config: &Config) -> Result<App, StartError> {
    let store = open(config, &Clock::System).await?;
    build_on(config, Service::new(store, Clock::System), None)
}

/// Builds on a service that is there already, with its own clock and database, and with more routes if wanted.
///
/// # Errors
/// When the port is taken.
pub fn build_on(config: &Config, service: Service, more: Option<MoreRoutes>) -> Result<App, StartError> {
    let service = match &config.inventory {
        None => service,
        Some(InventorySystem { url, key, timeout, total, kept_for }) => {
            let key = key.as_ref().map(|key| SecretString::from(key.expose()));
            let (url, timeout, total, kept_for) = (url.expose().to_owned(), *timeout, *total, *kept_for);
            let settings = inventory::Settings { url, key, timeout, total, kept_for };
            let clock = service.clock().clone();
            service.with_inventory(Inventory::new(settings, clock)?)
        }
    };
    let service = service.with_sender(sender(&config.webhooks));
    let wanted = SocketAddr::new(config.listen, config.port);
    let listen = |error| StartError::Listen(wanted, error);
    let listener = TcpListener::bind(wanted).map_err(listen)?;
    let address = listener.local_addr().map_err(listen)?;
    let limits = Limits {
        body_bytes: config.body_limit_bytes,
        body_time: config.body_timeout,
        import_bytes: config.import_limit_bytes,
        import_pause: config.import_pause,
    };
    let metrics = Metrics::default();
    let data = (Data::new(service.clone()), Data::new(limits), Data::new(Site::new(config)));
    let counted = Data::new(metrics.clone());
    let listeners = Data::new(Listeners::new(metrics.clone()));
    let limited = limits::Limits::new(config);
    let connections = Connections::new(config);
    let deadline = Data::new(Deadline(config.request_timeout));
    let shared = limited.clone();
    let factory = move || {
        let more = more.clone();
        let app = ActixApp::new().app_data(data.0.clone()).app_data(data.1.clone());
        let app = app
            .app_data(data.2.clone())
            .app_data(counted.clone())
            .app_data(listeners.clone())
            .app_data(Data::from(limited.clone()))
            .app_data(deadline.clone());
        let app = app.into_utoipa_app();
        // The last that is wrapped is the first that a request meets.
        app.configure(http::routes)
            .into_app()
            .configure(http::routes_behind)
            .configure(move |config| {
                if let Some(more) = &more {
                    more(config);
                }
            })
            .default_service(web::to(http::unknown_path))
            .wrap(from_fn(limits::by_key))
            .wrap(from_fn(access::check))
            .wrap(from_fn(deadline::hold))
            .wrap(Compress::default())
            .wrap(from_fn(etag::by_coding))
            .wrap(from_fn(middleware::problems_only))
            .wrap(from_fn(limits::by_address))
            .wrap(DefaultHeaders::new().add(("X-Content-Type-Options", "nosniff")))
            .wrap(from_fn(metrics::observe))
            .wrap(from_fn(customer::for_people))
            .wrap(from_fn(middleware::identify))
            .wrap(TracingLogger::<RequestSpan>::new())
            .wrap(from_fn(middleware::head_as_get))
    };
    let mut server = HttpServer::new(factory)
        .on_connect(move |stream, marks| connections.connected(stream, marks))
        .max_connections(config.max_connections)
        .client_request_timeout(config.head_timeout)
        .keep_alive(KeepAlive::Timeout(config.keep_alive))
        .shutdown_timeout(config.shutdown_timeout.as_secs())
        .backlog(BACKLOG)
        .disable_signals();
    if config.workers > 0 {
        server = server.workers(config.workers);
    }
    let server = server.listen(listener).map_err(listen)?.run();
    let shutdown_timeout = config.shutdown_timeout;
    Ok(App { handle: server.handle(), server, address, service, metrics, limits: shared, shutdown_timeout })
}

/// What tells targets of events, by the settings.
fn sender(Webhooks { networks, connect_timeout, timeout }: &Webhooks) -> Sender {
    let (networks, connect_timeout, timeout) = (networks.clone(), *connect_timeout, *timeout);
    let listed = Listed::by(move |address| networks.iter().any(|network| network.holds(address)));
    Sender::new(webhooks::Settings { listed, connect_timeout, timeout })
}

impl App {
    /// The address that it is bound to.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Its address for a browser or a client on this computer.
    pub fn url(&self) -> String {
        let host = match self.address {
            SocketAddr::V4(v4) if v4.ip().is_unspecified() => "127.0.0.1".to_owned(),
            SocketAddr::V6(v6) if v6.ip().is_unspecified() => "[::1]".to_owned(),
            SocketAddr::V4(v4) => v4.ip().to_string(),
            SocketAddr::V6(v6) => format!("[{}]", v6.ip()),
        };
        format!("http://{host}:{}", self.address.port())
    }

    /// The service behind it.
    pub fn service(&self) -> &Service {
        &self.service
    }

    /// Serves until `stop` is done; then finishes the requests under way, and closes the database last.
    ///
    /// # Errors
    /// When the server or the database fails.
    pub async fn run(self, stop: impl Future<Output = ()>) -> io::Result<()> {
        let App { server, handle, service, metrics, limits, shutdown_timeout, .. } = self;
        let mut server = std::pin::pin!(server);
        let (ending, ended) = oneshot::channel::<()>();
        let observe = metrics.clone();
        let observe = Arc::new(move |tried: &_| observe.webhook_tried(tried));
        let ended = async {
            let _ = ended.await;
        };
        let mut telling = std::pin::pin!(service.tell_targets(ended, observe));
        tokio::select! {
            ended = &mut server => ended?,
            () = forget_answers(&service) => {}
            () = lapse_quotes(&service) => {}
            () = forget_attempts(&service) => {}
            () = &mut telling => {}
            () = metrics.upkeep() => {}
            () = limits.forget() => {}
            () = stop => {
                tracing::info!("told to stop: finishing the requests under way");
                // Streams of events would go on for ever.
                service.end_listening();
                let _ = ending.send(());
                let told = tokio::time::timeout(shutdown_timeout, telling);
                let (ended, (), _) = tokio::join!(server, handle.stop(true), told);
                ended?;
            }
        }
        service.store().clone().close().await.map_err(io::Error::other)?;
        tracing::info!("stopped");
        Ok(())
    }
}

/// Forgets old answers at start and every hour; never done.
async fn forget_answers(service: &Service) {
    let mut hour = tokio::time::interval(ANSWERS_FORGOTTEN_EVERY);
    loop {
        hour.tick().await;
        if let Err(error) = service.forget_answers().await {
            tracing::warn!(
                error = &error as &dyn std::error::Error,
                "old answers to Idempotency-Keys were not forgotten"
            );
        }
    }
}

/// Forgets what was tried for webhooks long ago, at start and every hour; never done.
async fn forget_attempts(service: &Service) {
    let mut hour = tokio::time::interval(ATTEMPTS_FORGOTTEN_EVERY);
    loop {
        hour.tick().await;
        if let Err(error) = service.forget_attempts().await {
            tracing::warn!(error = &error as &dyn std::error::Error, "old tries of webhooks were not forgotten");
        }
    }
}

/// Writes of quotes that they have lapsed, at start and every minute; never done.
async fn lapse_quotes(service: &Service) {
    let mut minute = tokio::time::interval(LAPSED_EVERY);
    loop {
        minute.tick().await;
        match service.lapse_due().await {
            Ok(0) => {}
            Ok(lapsed) => tracing::info!(lapsed, "quotes lapsed: their last day is over"),
            Err(error) => {
                tracing::warn!(error = &error as &dyn std::error::Error, "it was not written which quotes lapsed");
            }
        }
    }
}

/// Is done when the process is told to stop: SIGTERM or SIGINT, Ctrl-C.
pub async fn stop_signal() {
    let interrupt = async {
        if let Err(error) = tokio::signal::ctrl_c().await {
            tracing::error!(error = &error as &dyn std::error::Error, "cannot listen for Ctrl-C");
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        let terminate = async {
            match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
                Ok(mut signal) => {
                    signal.recv().await;
                }
                Err(error) => {
                    tracing::error!(error = &error as &dyn std::error::Error, "cannot listen for SIGTERM");
                    std::future::pending::<()>().await;
                }
            }
        };
        tokio::select! {
            () = interrupt => {}
            () = terminate => {}
        }
    }
    #[cfg(not(unix))]
    interrupt.await;
}
