// Pictures as they are in the page, decoded once for each palette. Another palette takes the place of the one in the PNG file
// (PNG specification, 11.2.2: PLTE; 5.5: the checksum over a chunk's type and data).
const decoded = new Map();
const HEAD = 8;
const CRC = Uint32Array.from({ length: 256 }, (_, number) => {
  let value = number;
  for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
  return value;
});

function checksum(bytes) {
  let value = 0xffffffff;
  for (const byte of bytes) value = CRC[(value ^ byte) & 255] ^ (value >>> 8);
  return (value ^ 0xffffffff) >>> 0;
}

function fileOf(name) {
  const source = document.getElementById(`still-${name}`).src;
  return Uint8Array.from(atob(source.slice(source.indexOf(",") + 1)), (letter) => letter.charCodeAt(0));
}

// Returns a PNG file with other colours at the same entries, given as hexadecimal RGB.
function recoloured(file, table) {
  const view = new DataView(file.buffer);
  for (let at = HEAD; at < file.length; at += 12 + view.getUint32(at)) {
    if (String.fromCharCode(...file.subarray(at + 4, at + 8)) !== "PLTE") continue;
    const length = view.getUint32(at);
    for (let rank = 0; rank < length; rank += 1) file[at + 8 + rank] = parseInt(table.substr(2 * rank, 2), 16);
    view.setUint32(at + 8 + length, checksum(file.subarray(at + 4, at + 8 + length)));
  }
  return file;
}

// Resolves to the picture of an asset in one of its palettes; an empty name is its own.
function pictureOf(name, variant = "") {
  const key = `${name} ${variant}`;
  if (!decoded.has(key)) {
    const file = fileOf(name), table = page.looks[name].variants[variant];
    const blob = new Blob([table ? recoloured(file, table) : file], { type: "image/png" });
    decoded.set(key, createImageBitmap(blob, { premultiplyAlpha: "default", colorSpaceConversion: "none" }));
  }
  return decoded.get(key);
}

// Returns what chooses one of an asset's palettes; nothing where there is only one.
function paletteList(look, value, choose) {
  const variants = Object.keys(look.variants).map((one) => [one, one]);
  return variants.length ? [list("Palette", [["", look.colours || "its own"], ...variants], value, choose)] : [];
}

// Returns how many screen pixels one of the console's takes across and down; its longer side is stretched.
function shape(look, zoom) {
  const [wide, high] = look.aspect;
  return [zoom * Math.max(1, wide / high), zoom * Math.max(1, high / wide)];
}

// Brings a canvas to the size of a picture of the console; returns what draws on it without blurring.
function sized(canvas, width, height, [across, down]) {
  canvas.width = Math.round(width * across);
  canvas.height = Math.round(height * down);
  const pen = canvas.getContext("2d");
  pen.imageSmoothingEnabled = false;
  return pen;
}

// Draws a frame of an asset's picture with its top left corner at a place of the canvas.
function drawFrame(pen, picture, look, frame, left, top, [across, down]) {
  const [width, height] = look.frame, column = frame % look.columns, row = Math.floor(frame / look.columns);
  pen.drawImage(picture, column * width, row * height, width, height, left, top, Math.round(width * across), Math.round(height * down));
}
