// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// The demo after everything is built: one show with a simulated rig, and on request a synthetic crowd and an end.
import { mkdir } from 'node:fs/promises';
import { networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { createServer } from 'node:net';
import { parseArgs } from 'node:util';
import { performDemo } from '../demo_crowd.mjs';
import { sleep } from './clients.mjs';
import { root, startShow } from './show_process.mjs';

class Usage extends Error {}

function wholeNumber(name, text, low, high) {
  const n = Number(text);
  if (!/^\d+$/.test(text) || n < low || n > high) {
    throw new Usage(`${name} ${text}: expected a whole number from ${low} to ${high}`);
  }
  return n;
}

function seconds(text) {
  const m = /^(\d+(?:\.\d+)?)(s|m)?$/.exec(text);
  const s = m ? Number(m[1]) * (m[2] === 'm' ? 60 : 1) : 0;
  if (!(s >= 10 && s <= 3600)) throw new Usage(`--for ${text}: expected 10s to 60m, for example 20s`);
  return s;
}

/** `--lan` may stand alone; parseArgs knows only options with or without a value. */
function options(argv) {
  const args = argv.flatMap((a, i) => (a === '--lan' && !/^\d+\.\d+\.\d+\.\d+$/.test(argv[i + 1] ?? '') ? ['--lan', ''] : [a]));
  let values;
  try {
    ({ values } = parseArgs({
      args,
      options: { for: { type: 'string' }, crowd: { type: 'string' }, lan: { type: 'string' }, 'port-base': { type: 'string' } },
    }));
  } catch (e) {
    throw new Usage(e.message);
  }
  const base = wholeNumber('--port-base', values['port-base'] ?? '8080', 1024, 65533);
  return {
    seconds: values.for === undefined ? null : seconds(values.for),
    crowd: wholeNumber('--crowd', values.crowd ?? '0', 0, 5000),
    lan: values.lan === undefined ? null : values.lan || ownAddress(),
    ports: { audience: base, desk: base + 1, rig: values['port-base'] === undefined ? 9700 : base + 2 },
  };
}

function ownAddress() {
  const own = Object.values(networkInterfaces()).flat().find((a) => a.family === 'IPv4' && !a.internal);
  if (!own) throw new Usage('--lan: this machine has no network address; give one: --lan 192.168.0.10');
  return own.address;
}

/** Refuses early, with the way out, what would otherwise fail in the middle of the start. */
async function checkPorts(host, ports) {
  for (const what of ['audience', 'desk']) {
    await new Promise((resolve, reject) => {
      const probe = createServer();
      probe.once('error', (e) => reject(new Usage(/EADDRINUSE|EACCES/.test(e.code)
        ? `Port ${ports[what]} on ${host}, for the ${what} page, cannot be opened (${e.code}). Is another show ` +
          `running? Choose other ports with --port-base, for example --port-base ${ports.audience + 100}.`
        : `${host} is not an address of this machine (${e.code}). \`hostname -I\` lists them.`)));
      probe.listen({ port: ports[what], host, exclusive: true }, () => probe.close(resolve));
    });
  }
}

/** Resolves when the show is to end: time is up, Ctrl-C, or the show has died by itself. */
function theEnd(show, s) {
  return new Promise((resolve) => {
    for (const signal of ['SIGINT', 'SIGTERM']) process.once(signal, () => resolve(signal));
    show.exited.then(() => resolve('died'));
    if (s !== null) sleep(s * 1000).then(() => resolve('time'));
  });
}

/** How the show went: true, or false if something was not well. */
async function attend(show, opt) {
  const abort = new AbortController();
  const end = theEnd(show, opt.crowd > 0 ? null : opt.seconds);
  const crowd = opt.crowd > 0
    ? performDemo(show, { crowd: opt.crowd, seconds: opt.seconds, signal: abort.signal }).catch((e) => {
        if (!abort.signal.aborted) console.error(`deploy/demo: ${e.message}`);
        return false;
      })
    : end;
  const how = await Promise.race([crowd, end]);
  abort.abort();
  return how !== false && how !== 'died';
}

async function main() {
  const opt = options(process.argv.slice(2));
  await checkPorts(opt.lan ?? '127.0.0.1', opt.ports);
  const folder = join(process.env.STEADYHAND_STATE ?? join(root, '.steadyhand'), `demo-${opt.ports.audience}`);
  await mkdir(folder, { recursive: true, mode: 0o700 });
  const show = await startShow({ folder, ports: opt.ports, lan: opt.lan, echo: true, printPasses: true });
  const well = await attend(show, opt);
  const how = await show.stop();
  if (how.code !== 0) console.error(`The show ended with ${how.signal ?? `status ${how.code}`}.`);
  process.exit(well && how.code === 0 ? 0 : 1);
}

main().catch((e) => {
  console.error(e instanceof Usage ? `deploy/demo: ${e.message}\nSee ./deploy/demo --help` : `deploy/demo: ${e.stack}`);
  process.exit(2);
});
