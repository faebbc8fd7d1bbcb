/* What records and their archives are checked by, and where a record is by what was exported and what came in. One
   global, `journalArchive`, to which record-archive.js adds more; photoEnding needs record-database.js:

     stateOf(row, exports, receipts, gone)   "only on this device" | "exported" | "in the journal" | "no longer in the
                           journal", of a revision. exports: as the store has them; receipts: record -> revision -> new
                           ID or null; gone: record -> its latest revision that was in the journal once, by the site,
                           which is believed before a code
     receivedRevision(receipts, record)      the newest that the journal has, 0 where it has none
     crc32(bytes)          of an ArrayBuffer or Uint8Array
     sha256(bytes)         a promise of the hex digest
     photoEnding(blob, name)   "jpg" …; a fault of kind "photo" where no archive takes it; name: as it was chosen */
"use strict";

globalThis.journalArchive = (() => {
  const LARGEST_PHOTO_BYTES = 64 << 20;

  const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
    let value = byte;
    for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
    return value;
  });

  const crc32 = (bytes) => {
    let value = 0xffffffff;
    for (const byte of new Uint8Array(bytes)) value = CRC_TABLE[(value ^ byte) & 255] ^ (value >>> 8);
    return (value ^ 0xffffffff) >>> 0;
  };

  const sha256 = async (bytes) => {
    const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
    return Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("");
  };

  const exportedRevision = (exports, record) => {
    const rows = exports.flatMap((one) => one.records).filter((row) => row.record === record);
    return Math.max(0, ...rows.map((row) => row.revision));
  };

  const receivedRevision = (receipts, record) => Math.max(0, ...Object.keys(receipts[record] ?? {}).map(Number));

  const stateOf = ({ record, revision }, exports, receipts, gone) => {
    if (gone[record] >= revision) return "no longer in the journal";
    if (receivedRevision(receipts, record) >= revision) return "in the journal";
    return exportedRevision(exports, record) >= revision ? "exported" : "only on this device";
  };

  const TYPES = { jpeg: "jpg", jpg: "jpg", png: "png", webp: "webp", heic: "heic", heif: "heif", avif: "avif" };

  const photoEnding = (blob, name) => {
    const ending = TYPES[blob.type.replace("image/", "")] ?? TYPES[name.split(".").pop().toLowerCase()];
    const file = name || "This file";
    if (!ending) throw journalDatabase.fault("photo", `${file} is not a photo that the journal takes (JPEG, HEIC, PNG, WebP, AVIF).`);
    if (blob.size > LARGEST_PHOTO_BYTES) throw journalDatabase.fault("photo", `${file} is larger than 64 MB.`);
    return ending;
  };

  return { stateOf, receivedRevision, crc32, sha256, photoEnding };
})();
