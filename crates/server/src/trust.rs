//! How a device comes to trust the shop's own certificate authority, and the certificate to be trusted.

use std::sync::Arc;

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

use crate::page::{escaped, framed};
use crate::refusal::{Refusal, SaidNo};
use crate::shop::{App, Authority};

/// Steps for each kind of device. Source: the makers' help pages, from memory: names of menus move from version to version.
const DEVICES: &[(&str, &[&str])] = &[
    (
        "Android tablet or phone",
        &[
            "Download the certificate above.",
            "Settings, search for “CA certificate” (often under Security, Encryption & credentials, Install a certificate).",
            "Choose CA certificate, read the warning, choose the file that was downloaded.",
            "Compare the fingerprint under Trusted credentials, User.",
            "Firefox there keeps its own list: About Firefox, tap the logo five times; then Settings, Secret settings, Use third party CA certificates.",
        ],
    ),
    (
        "iPad or iPhone",
        &[
            "Open this page in Safari and download the certificate above; allow the profile.",
            "Settings, Profile downloaded, Install.",
            "Settings, General, About, Certificate Trust Settings: switch full trust on for it. Without this step it is installed but not trusted.",
        ],
    ),
    (
        "Windows",
        &[
            "Download the certificate above and open it.",
            "Install certificate, for this computer (or this user).",
            "Place it in “Trusted Root Certification Authorities”, finish, start the browser again.",
        ],
    ),
    (
        "macOS",
        &[
            "Download the certificate above and open it: the keychain opens.",
            "Add it to the System keychain, open it there, Trust, “Always trust”.",
        ],
    ),
    (
        "Linux (Debian and its kin)",
        &[
            "As PEM: openssl x509 -inform der -in authority.crt -out shop.crt",
            "sudo cp shop.crt /usr/local/share/ca-certificates/ && sudo update-ca-certificates",
            "Chromium keeps its own list: Settings, Privacy and security, Security, Manage certificates, Authorities, Import.",
        ],
    ),
    (
        "Firefox on a computer",
        &[
            "Settings, Privacy & Security, Certificates, View certificates, Authorities, Import.",
            "Tick “Trust this CA to identify websites”.",
        ],
    ),
    ("curl and programs", &["As PEM, as for Linux; then curl --cacert shop.crt https://.."]),
];

fn authority(app: &App) -> Result<&Authority, Refusal> {
    app.standing.authority.as_ref().ok_or_else(|| {
        let sentence = "this server has no certificate authority of its own; allowed: a server that was started with --tls own; \
                        there is nothing that a device must be told to trust";
        Refusal::new(StatusCode::NOT_FOUND, sentence)
    })
}

/// How each kind of device is told to trust this server.
#[utoipa::path(get, path = "/trust", tag = "server", responses((status = 200, body = String, content_type = "text/html"), (status = 404, body = SaidNo)))]
pub(crate) async fn trust(State(app): State<Arc<App>>) -> Result<Html<String>, Refusal> {
    let Authority { fingerprint, names, .. } = authority(&app)?;
    let devices: String = DEVICES
        .iter()
        .map(|(device, steps)| {
            let steps: String = steps.iter().map(|step| format!("<li>{}</li>", escaped(step))).collect();
            format!("<h2>{}</h2><ol>{steps}</ol>", escaped(device))
        })
        .collect();
    let names = escaped(&names.join(", "));
    let body = format!(
        "<h1>Let this device trust the server</h1>\
         <p class=\"caution\">Before you install it, compare this fingerprint with the one that the server printed where it was started. \
         If they differ, stop: somebody stands between. Whoever holds the server's key can pretend to be any of the names below to devices that trust it, and no others.</p>\
         <p>SHA-256 <code>{fingerprint}</code></p><p>It can vouch for names that end in {names}, and for addresses of private networks.</p>\
         <p><a href=\"/trust/authority.crt\">Download the certificate</a></p>\
         <p>Until a device trusts it, the browser warns, and the app can't be kept on the device: it then needs the network to start.</p>{devices}\
         <p>Names of menus differ between versions. To take the trust back, delete the certificate where it was added.</p>"
    );
    Ok(Html(framed("Trust this server", &body)))
}

/// The certificate of the shop's own authority.
#[utoipa::path(get, path = "/trust/authority.crt", tag = "server",
    responses((status = 200, body = Vec<u8>, content_type = "application/x-x509-ca-cert"), (status = 404, body = SaidNo)))]
pub(crate) async fn certificate(State(app): State<Arc<App>>) -> Result<Response, Refusal> {
    let der = authority(&app)?.der.clone();
    let headers =
        [(header::CONTENT_TYPE, "application/x-x509-ca-cert"), (header::CONTENT_DISPOSITION, "attachment; filename=\"authority.crt\"")];
    Ok((headers, der).into_response())
}
