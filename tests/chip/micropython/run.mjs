// Runs a folder's Python under MicroPython's WebAssembly build: node run.mjs MODULE FOLDER SCRIPT [OUT ...]
// SCRIPT is run piece by piece, a piece ending at a line "# ---"; a piece whose last line is "# repeat" runs until it
// prints "done": this port collects garbage between pieces only. The files OUT are copied back into FOLDER.
import fs from "fs";
import path from "path";
import { pathToFileURL } from "url";

const [module, folder, script, ...out] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(module).href);
let last = "";
const micropython = await loadMicroPython({
  heapsize: 192 * 1024,
  linebuffer: true,
  stdout: (line) => {
    last = line;
    if (line !== "done" && line !== "more") console.log(line);
  },
});

function copyIn(from, to) {
  for (const entry of fs.readdirSync(from, { withFileTypes: true })) {
    const [source, target] = [path.join(from, entry.name), `${to}/${entry.name}`];
    if (entry.isDirectory()) {
      micropython.FS.mkdir(target);
      copyIn(source, target);
    } else {
      micropython.FS.writeFile(target, fs.readFileSync(source));
    }
  }
}

copyIn(folder, "");
for (const piece of fs.readFileSync(script, "utf8").split(/^# ---\n/m)) {
  do {
    last = "";
    try {
      micropython.runPython(piece);
    } catch (error) {
      console.error(error.message);
      process.exit(1);
    }
  } while (piece.trimEnd().endsWith("# repeat") && last !== "done");
}
for (const name of out) fs.writeFileSync(path.join(folder, name), micropython.FS.readFile(`/${name}`));
