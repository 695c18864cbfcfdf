// Archives of a folder of small texts: written without compression, read with what
// browsers have (deflate).
"use strict";
const permilZip = (() => {
  const table = new Uint32Array(256).map((_, n) => {
    let c = n;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    return c >>> 0;
  });
  const crc = (bytes) => {
    let c = 0xffffffff;
    for (const byte of bytes) c = table[(c ^ byte) & 255] ^ (c >>> 8);
    return (c ^ 0xffffffff) >>> 0;
  };
  const record = (size) => {
    const bytes = new Uint8Array(size), view = new DataView(bytes.buffer);
    let at = 0;
    const put = (width, value) => { width === 4 ? view.setUint32(at, value, true) : view.setUint16(at, value, true); at += width; };
    return { bytes, put };
  };
  // The first day that the format knows: the same files give the same bytes.
  const DAY = 0x21;
  const pack = (files) => {
    const parts = [], central = [];
    let offset = 0;
    for (const [name, text] of Object.entries(files).sort(([a], [b]) => (a < b ? -1 : 1))) {
      const path = new TextEncoder().encode(name), body = new TextEncoder().encode(text);
      const common = [[2, 20], [2, 0x800], [2, 0], [2, 0], [2, DAY], [4, crc(body)], [4, body.length], [4, body.length], [2, path.length], [2, 0]];
      const local = record(30), entry = record(46);
      local.put(4, 0x04034b50);
      for (const [width, value] of common) local.put(width, value);
      entry.put(4, 0x02014b50);
      entry.put(2, 20);
      for (const [width, value] of common) entry.put(width, value);
      for (const [width, value] of [[2, 0], [2, 0], [2, 0], [4, 0], [4, offset]]) entry.put(width, value);
      parts.push(local.bytes, path, body);
      central.push(entry.bytes, path);
      offset += 30 + path.length + body.length;
    }
    const size = central.reduce((sum, bytes) => sum + bytes.length, 0), end = record(22), count = Object.keys(files).length;
    for (const [width, value] of [[4, 0x06054b50], [2, 0], [2, 0], [2, count], [2, count], [4, size], [4, offset], [2, 0]]) end.put(width, value);
    return new Blob([...parts, ...central, end.bytes], { type: "application/zip" });
  };
  // The texts of an archive by their paths. Nothing larger than a file may be is unpacked.
  const unpack = async (blob, largest) => {
    const bytes = new Uint8Array(await blob.arrayBuffer()), view = new DataView(bytes.buffer);
    let end = bytes.length - 22;
    while (end >= 0 && view.getUint32(end, true) !== 0x06054b50) end -= 1;
    if (end < 0) throw new Error("this is no zip archive");
    const files = [];
    let at = view.getUint32(end + 16, true);
    for (let left = view.getUint16(end + 10, true); left > 0; left -= 1) {
      if (at + 46 > bytes.length || view.getUint32(at, true) !== 0x02014b50) throw new Error("the archive is broken off");
      const [method, packed, size] = [view.getUint16(at + 10, true), view.getUint32(at + 20, true), view.getUint32(at + 24, true)];
      const [name, extra, remark] = [28, 30, 32].map((by) => view.getUint16(at + by, true)), from = view.getUint32(at + 42, true);
      const path = new TextDecoder().decode(bytes.subarray(at + 46, at + 46 + name));
      at += 46 + name + extra + remark;
      if (path.endsWith("/")) continue;
      if (size > largest) throw new Error(path + " is too large");
      const begin = from + 30 + view.getUint16(from + 26, true) + view.getUint16(from + 28, true);
      const body = new Blob([bytes.subarray(begin, begin + packed)]);
      if (method !== 0 && method !== 8) throw new Error(path + " is packed in a way that is not known here");
      const stream = method === 8 ? body.stream().pipeThrough(new DecompressionStream("deflate-raw")) : body.stream();
      files.push([path, await new Response(stream).text()]);
    }
    return files;
  };
  return { pack, unpack };
})();
