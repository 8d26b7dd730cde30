// A station in another language, driven by lines: one JSON object asks, one answers.
import { spawn } from "node:child_process";
import { createInterface } from "node:readline";

/** The station said no. */
export class Refused extends Error {
  constructor({ code, sentence }) {
    super(sentence);
    this.code = code;
  }
}

export class Station {
  #child; #waiting = new Map(); #next = 1; #said = "";

  /** `command` is the program with its words; the station is kept in `directory`. */
  constructor(name, command, directory) {
    this.name = name;
    this.directory = directory;
    this.#child = spawn(command[0], command.slice(1), { stdio: ["pipe", "pipe", "pipe"] });
    this.#child.stderr.on("data", (data) => { this.#said += data; });
    createInterface({ input: this.#child.stdout }).on("line", (line) => this.#answered(JSON.parse(line)));
    this.#child.on("error", (error) => this.#ended(error.message));
    this.#child.on("close", (code) => this.#ended(`it ended with ${code}`));
    // One that ended does not read any more; what was asked of it fails by its end.
    this.#child.stdin.on("error", () => {});
  }

  /** Asks for something and gives what came of it. */
  ask(what, given = {}) {
    const id = this.#next++;
    return new Promise((keep, fail) => {
      this.#waiting.set(id, { keep, fail });
      this.#child.stdin.write(`${JSON.stringify({ id, do: what, ...given })}\n`);
    });
  }

  #answered({ id, gives, refused }) {
    const { keep, fail } = this.#waiting.get(id) ?? {};
    this.#waiting.delete(id);
    if (refused) fail?.(new Refused(refused));
    else keep?.(gives);
  }

  #ended(why) {
    for (const { fail } of this.#waiting.values()) fail(new Error(`${this.name}: ${why}\n${this.#said}`));
    this.#waiting.clear();
  }

  kill() { this.#child.kill("SIGKILL"); }
}
