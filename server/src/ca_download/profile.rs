//! A configuration profile, by which Apple's phones install a certificate: Apple's *Configuration Profile
//! Reference*, payload `com.apple.security.root`.

use base64::Engine as _;
use sha2::{Digest as _, Sha256};

/// Returns the profile of a certificate, DER. The same certificate gives the same profile, so that
/// installing it twice leaves one.
pub fn of(der: &[u8]) -> String {
    let content = base64::engine::general_purpose::STANDARD.encode(der);
    let (inner, outer) = (identity(b"payload", der), identity(b"profile", der));
    format!(
        r#"<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>PayloadContent</key>
  <array>
    <dict>
      <key>PayloadType</key><string>com.apple.security.root</string>
      <key>PayloadVersion</key><integer>1</integer>
      <key>PayloadIdentifier</key><string>clearhawse.certificate.{inner}</string>
      <key>PayloadUUID</key><string>{inner}</string>
      <key>PayloadDisplayName</key><string>Clearhawse: the ship's certificate</string>
      <key>PayloadCertificateFileName</key><string>clearhawse-ship.crt</string>
      <key>PayloadContent</key><data>{content}</data>
    </dict>
  </array>
  <key>PayloadType</key><string>Configuration</string>
  <key>PayloadVersion</key><integer>1</integer>
  <key>PayloadIdentifier</key><string>clearhawse.profile.{outer}</string>
  <key>PayloadUUID</key><string>{outer}</string>
  <key>PayloadDisplayName</key><string>Clearhawse aboard this ship</string>
  <key>PayloadDescription</key>
  <string>Lets this phone trust the ship's own server. It is for the ship's names and private networks alone.</string>
</dict>
</plist>
"#
    )
}

/// Returns a version 8 UUID (RFC 9562 section 5.8) that follows from what it names.
fn identity(what: &[u8], der: &[u8]) -> String {
    let hash = Sha256::new()
        .chain_update(what)
        .chain_update(der)
        .finalize();
    let mut bytes: [u8; 16] = std::array::from_fn(|at| hash[at]);
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    let text = record::hex::encode(&bytes).to_uppercase();
    let parts = [
        &text[..8],
        &text[8..12],
        &text[12..16],
        &text[16..20],
        &text[20..],
    ];
    parts.join("-")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_certificate_has_one_profile_of_its_own() {
        let profile = of(b"certificate");
        assert_eq!(profile, of(b"certificate"));
        assert!(
            profile.contains("<data>Y2VydGlmaWNhdGU=</data>"),
            "{profile}"
        );
        assert_ne!(profile, of(b"another"));
        let id = identity(b"profile", b"certificate");
        assert_eq!((id.len(), &id[14..15]), (36, "8"), "{id}");
    }
}
