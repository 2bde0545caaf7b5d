//! The plain words that stand in every packet.

/// What the page is, and what it is not.
pub(super) const STATEMENT: &str = "This record states what was observed, measured and counted at \
the house. It makes no statement on insurance.";

/// `HOW-TO-CHECK.txt`.
pub(super) const HOW_TO_CHECK: &str = "\
HOW TO CHECK THIS FOLDER

This folder is a bag as RFC 8493 describes it. Everything in it can be checked without the
program that wrote it.

1. Nothing was changed, lost or added since the folder was made:
     sha256sum --check manifest-sha256.txt
     sha256sum --check tagmanifest-sha256.txt
     sha256sum --check seal.txt
     b3sum --check blake3.txt
   or any program that validates bags. Then who sealed it:
     openssl pkeyutl -verify -pubin -inkey seal-key.pem -rawin -in seal.txt -sigfile seal.sig
   The key must be the office's: compare the line \"# key:\" of seal.txt with the key that the
   office itself gives you. Where a device sealed the folder, seal.txt carries the office's
   certificate of that device, signed as step 2 says.

2. Each photo is the one that was taken in on site: data/captures holds a file for each photo.
   \"body\" is what the device signed when the photo was taken in (MessagePack, in hexadecimal
   digits): the BLAKE3 and SHA-256 of the original, its size, time and place as the camera
   wrote them. \"signature\" is Ed25519 over the words \"chalkwalk capture v1\", a zero byte and the
   BLAKE3 of the body. The device's public key is in \"certificate\", whose body the office signed
   in the same way under the words \"chalkwalk certificate v1\".
   Ask the office for its public key and compare it with the one in data/custody.json: the key
   in this folder alone proves nothing.
   Where data/derived.json lies here instead, the photos are copies without the place and time
   that the camera wrote; it names the SHA-256 and BLAKE3 of each original, which the office keeps.

3. Who recorded what, when and on which device: data/custody.json. A signature there is Ed25519
   over the words \"chalkwalk change v1\", a zero byte and the change's hash. An entry without one
   is covered by a later change of the same author.

4. The tables (data/*.csv and, where they are here, report.xlsx and report.pdf) say what
   data/report.json says; data/report.schema.json is its JSON Schema.

What this shows: who took each photo in and when, by the clock of that device, that the file has
not changed since, and that nothing was taken out of this folder after it was sealed. What it does
not show: that the clock was right, or that this is the last folder that was made of the house.
";
