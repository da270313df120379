// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// A clock that a test turns by hand, in place of the global timers, Date.now and performance.now.
export class FakeClock {
  constructor() {
    this.now = 1000;
    this.tasks = new Map();
    this.next = 1;
    this.real = { setTimeout, setInterval, clearTimeout, clearInterval, dateNow: Date.now };
    // A property of the global object in every Node; its own now() is read-only in some.
    this.performance = Object.getOwnPropertyDescriptor(globalThis, 'performance');
    const add = (fn, ms, every) => {
      const id = this.next++;
      this.tasks.set(id, { fn, at: this.now + ms, every });
      return id;
    };
    globalThis.setTimeout = (fn, ms = 0) => add(fn, ms, 0);
    globalThis.setInterval = (fn, ms) => add(fn, ms, ms);
    globalThis.clearTimeout = globalThis.clearInterval = (id) => this.tasks.delete(id);
    Date.now = () => this.now;
    Object.defineProperty(globalThis, 'performance', { value: { now: () => this.now }, configurable: true });
  }

  /** Runs everything that falls due within `ms`, in order of time. */
  advance(ms) {
    const until = this.now + ms;
    for (;;) {
      const due = [...this.tasks].filter(([, t]) => t.at <= until).sort((a, b) => a[1].at - b[1].at || a[0] - b[0])[0];
      if (!due) break;
      const [id, task] = due;
      this.now = task.at;
      if (task.every) task.at += task.every;
      else this.tasks.delete(id);
      task.fn();
    }
    this.now = until;
  }

  /** The machine sleeps: time passes, nothing runs. */
  sleep(ms) {
    this.now += ms;
    for (const task of this.tasks.values()) task.at = Math.max(task.at, this.now);
  }

  restore() {
    const { dateNow, ...timers } = this.real;
    Object.assign(globalThis, timers);
    Date.now = dateNow;
    Object.defineProperty(globalThis, 'performance', this.performance);
  }
}
