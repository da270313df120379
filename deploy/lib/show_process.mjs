// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A running show as a child process: makes a show file for the ports at hand, starts `steadyhand run`, waits until it
// says it is ready, reads the simulated rig's judge, and ends it again, by process id.
import { spawn } from 'node:child_process';
import { mkdtemp, open, readFile, rm, writeFile } from 'node:fs/promises';
import { createSocket } from 'node:dgram';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { PATIENCE_MS, until } from './clients.mjs';

export const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
export const modelRailway = join(root, 'deploy', 'shows', 'model-railway.json');

/** A TCP or UDP port that was free a moment ago. */
export function freePort(kind = 'tcp') {
  return new Promise((resolve, reject) => {
    const s = kind === 'udp' ? createSocket('udp4') : createServer();
    const done = () => {
      const { port } = s.address();
      s.close(() => resolve(port));
    };
    s.once('error', reject);
    if (kind === 'udp') s.bind(0, '127.0.0.1', done);
    else s.listen(0, '127.0.0.1', done);
  });
}

/** The judge's newest line of what truly happened, and the whole record so far. */
class Judge {
  #file;
  #offset = 0;
  #rest = '';
  lines = [];

  constructor(file) {
    this.#file = file;
  }

  /** Reads what has been written since; returns the newest line, or null before the first. */
  async now() {
    let handle;
    try {
      handle = await open(this.#file, 'r');
    } catch {
      return null;
    }
    try {
      const buffer = Buffer.alloc(1 << 20);
      for (;;) {
        const { bytesRead } = await handle.read(buffer, 0, buffer.length, this.#offset);
        if (bytesRead === 0) break;
        this.#offset += bytesRead;
        this.#rest += buffer.toString('utf8', 0, bytesRead);
      }
    } finally {
      await handle.close();
    }
    const whole = this.#rest.split('\n');
    this.#rest = whole.pop();
    for (const line of whole) if (line) this.lines.push(JSON.parse(line));
    return this.lines.at(-1) ?? null;
  }

  /** Waits for a line that `wanted` accepts, written after this call or, where that is given, after the line `since`. */
  async where(what, wanted, timeoutMs = PATIENCE_MS, since = null) {
    await this.now();
    let from = since ? this.lines.indexOf(since) + 1 : this.lines.length;
    try {
      return await until(what, async () => {
        await this.now();
        for (; from < this.lines.length; from++) if (wanted(this.lines[from])) return this.lines[from];
        return null;
      }, timeoutMs);
    } catch (e) {
      throw new Error(`${e.message}; the judge last said ${JSON.stringify(this.lines.at(-1))}`);
    }
  }
}

/** A show under way. Make one with startShow(). */
class Show {
  constructor(child, files, output) {
    this.child = child;
    this.files = files;
    this.output = output;
    this.judge = new Judge(files.judge);
    this.exited = new Promise((resolve) => {
      child.once('exit', (code, signal) => resolve({ code, signal }));
      child.once('error', () => resolve({ code: 127, signal: null })); // it could not be started at all
    });
  }

  async ready(timeoutMs) {
    let dead = null;
    this.exited.then((how) => (dead = how));
    await until(`the show to be ready\n${this.output.text}`, async () => {
      if (dead) throw new Error(`steadyhand run ended with ${JSON.stringify(dead)} before it was ready:\n${this.output.text}`);
      try {
        Object.assign(this, JSON.parse(await readFile(this.files.ready, 'utf8')));
        return true;
      } catch (e) {
        if (e.code === 'ENOENT' || e instanceof SyntaxError) return false;
        throw e;
      }
    }, timeoutMs).catch(async (e) => {
      await this.stop();
      throw new Error(`${e.message}\n${this.output.text}`);
    });
    return this;
  }

  /** The ids of the show's processes now; they change when one is restarted. */
  async processes() {
    return JSON.parse(await readFile(this.files.ready, 'utf8')).pids;
  }

  /** Ends the show and everything it started. */
  async stop() {
    this.child.kill('SIGTERM');
    const timer = setTimeout(() => this.child.kill('SIGKILL'), PATIENCE_MS);
    const how = await this.exited;
    clearTimeout(timer);
    if (this.files.temporary) await rm(this.files.temporary, { recursive: true, force: true });
    return how;
  }
}

/**
 * Starts a show.
 *   edit(show)   changes the show file's object before it is written
 *   ports        { audience, desk, rig }; free ones where left out
 *   lan          this machine's address on a network, to listen there
 *   folder       for the state, the show file and the judge; a temporary one where left out, removed at the end
 *   binary       the executable
 *   echo         pass the show's output on to ours
 *   printPasses  let it print the passes for people, too
 */
export async function startShow(options = {}) {
  const temporary = options.folder ? null : await mkdtemp(join(tmpdir(), 'steadyhand-'));
  const folder = options.folder ?? temporary;
  const files = {
    temporary,
    folder,
    state: join(folder, 'state'),
    show: join(folder, 'show.json'),
    judge: join(folder, 'judge.jsonl'),
    ready: join(folder, 'ready.json'),
  };
  for (const stale of [files.judge, files.ready]) await rm(stale, { force: true });
  const show = JSON.parse(await readFile(options.from ?? modelRailway, 'utf8'));
  show.audience.listen.port = options.ports?.audience ?? (await freePort());
  show.desk.listen.port = options.ports?.desk ?? (await freePort());
  show.rig.link.port = options.ports?.rig ?? (await freePort('udp'));
  options.edit?.(show);
  await writeFile(files.show, JSON.stringify(show, null, 2) + '\n');

  const binary = options.binary ?? process.env.STEADYHAND_BINARY ?? join(root, 'build', 'gateway', 'steadyhand');
  const args = ['run', files.show, '--state', files.state, '--web', join(root, 'web', 'dist'),
    '--judge', files.judge, '--json-ready', files.ready, ...(options.lan ? ['--lan', options.lan] : []), ...(options.printPasses ? ['--print-passes'] : [])];
  const child = spawn(binary, args, { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...options.env } });
  const output = { text: '' };
  for (const [stream, to] of [[child.stdout, process.stdout], [child.stderr, process.stderr]]) {
    stream.on('data', (data) => {
      if (output.text.length < 1e6) output.text += data;
      if (options.echo) to.write(data);
    });
  }
  child.once('error', (e) => (output.text += `${binary}: ${e.message}\n`));
  const started = new Show(child, files, output);
  started.config = show;
  return started.ready(options.timeoutMs ?? 60000);
}
