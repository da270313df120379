// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// Copies policy/ for the analyser, with what it cannot infer said at the place. Eva of Frama-C 25 does not learn from a
// comparison that held that neither side was NaN, nor from a predicate called on a copy anything about the original. So in
// the copy
//   - `a < b` of floating point reads `(a < b && FACT(a == a) && FACT(b == b))`; where a is fabs(e) or vec_norm(e), the
//     bounds that follow for e stand there too (FACT: words.h);
//   - calls of predicates that are one expression are replaced by that expression;
//   - enumerators and sizes of arrays are numbers, not sums (a crash in Frama-C 25);
//   - `e * e` reads proof_square(e) (words.h), as Eva forgets in longer sums that it is the same e twice.
// Every word added follows from the words that were there: the meaning is the same, and line numbers are. clang finds
// the places.
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join, normalize } from 'node:path';
import { find, root } from '../lib/tools.mjs';

const COMPARES = new Set(['<', '>', '<=', '>=']);
const HINTS = {
  fabs: (e, most) => [`(${e}) == (${e})`, `(${e}) <= (${most})`, `(${e}) >= -(${most})`],
  // Its squares may be rounded to nought, or a little down: so a little more than the limit.
  vec_norm: (e, most) =>
    ['x', 'y', 'z'].flatMap((c) => {
      const part = `(${e}).${c}`;
      return [`${part} == ${part}`, `${part} <= proof_side(${most})`, `${part} >= -proof_side(${most})`];
    }),
};

/** One file: its text and the places in it that read differently in the copy, by where they begin and end. */
class Source {
  constructor(file) {
    this.text = readFileSync(join(root, file), 'latin1');
    this.edits = new Map();
  }
  edit(begin, end, make) {
    const key = `${begin}-${end}`;
    if (!this.edits.has(key)) this.edits.set(key, { begin, end, make });
  }
  /** From begin to end as it reads in the copy; `given` maps parameters to arguments. `as` keeps one edit from itself. */
  render(begin, end, given, as) {
    const inside = [...this.edits.values()].filter((e) => e !== as && e.begin >= begin && e.end <= end);
    const outermost = inside.filter((e) => !inside.some((o) => o !== e && o.begin <= e.begin && o.end >= e.end));
    let out = '';
    let at = begin;
    for (const e of outermost.sort((a, b) => a.begin - b.begin)) {
      out += this.text.slice(at, e.begin) + e.make(given, e);
      at = e.end;
    }
    return out + this.text.slice(at, end);
  }
}

const oneLine = (text) => text.replace(/\s*\n\s*/g, ' ');

class Reader {
  constructor(sources, wanted) {
    this.sources = sources;
    this.wanted = wanted;
    this.file = '';
    this.functions = new Map();
  }

  /** Where a location of clang's dump is; it names a file only where that changes. */
  place(loc) {
    if (!loc) return undefined;
    let place = { file: this.file, offset: loc.offset, length: loc.tokLen, macro: false };
    if (loc.spellingLoc) {
      const spelt = this.place(loc.spellingLoc);
      const used = this.place(loc.expansionLoc);
      const argument = loc.expansionLoc.isMacroArgExpansion;
      return { ...(argument ? spelt : used), macro: true, argument };
    }
    if (loc.file) this.file = normalize(loc.file);
    return { ...place, file: this.file };
  }

  source(file) {
    if (!this.wanted(file)) return undefined;
    if (!this.sources.has(file)) this.sources.set(file, new Source(file));
    return this.sources.get(file);
  }

  /** Gives every node its place: file, begin, end. */
  mark(node) {
    const named = node.loc && this.place(node.loc);
    if (named && ['FieldDecl', 'VarDecl'].includes(node.kind)) this.sizes(node, named);
    if (node.range) {
      const begin = this.place(node.range.begin);
      const end = this.place(node.range.end);
      const source = this.source(begin.file);
      if (source && begin.file === end.file && begin.offset !== undefined && end.offset !== undefined)
        node.at = { file: begin.file, begin: begin.offset, end: this.endOf(source, end), macro: begin.macro, argument: begin.argument, source };
    }
    for (const child of node.inner ?? []) this.mark(child);
  }

  /** A use of a macro with arguments ends with its parenthesis. */
  endOf(source, end) {
    let at = end.offset + end.length;
    if (!end.macro || end.argument || source.text[at] !== '(') return at;
    for (let depth = 0; at < source.text.length; at++) {
      if (source.text[at] === '(') depth++;
      if (source.text[at] === ')' && --depth === 0) return at + 1;
    }
    return at;
  }

  read(tree) {
    for (const node of tree.inner) {
      this.mark(node);
      if (node.kind === 'EnumDecl') this.enumerators(node);
      if (node.kind !== 'FunctionDecl') continue;
      const body = node.inner?.find((n) => n.kind === 'CompoundStmt');
      if (!body?.at) continue;
      this.lengths = lengthsIn(node);
      this.predicate(node, body);
      this.walk(body);
    }
  }

  /** The sizes of an array, as numbers. */
  sizes(node, named) {
    const source = this.source(named.file);
    if (!source || named.macro || named.offset === undefined) return;
    const sizes = [...node.type.qualType.matchAll(/\[(\d+)\]/g)].map((m) => m[1]);
    let at = named.offset + named.length;
    for (const size of sizes) {
      const written = /^\[([^\]]*)\]/.exec(source.text.slice(at, at + 100));
      if (!written) return;
      if (/[^\w]/.test(written[1])) source.edit(at + 1, at + 1 + written[1].length, () => size);
      at += written[0].length;
    }
  }

  enumerators(node) {
    for (const value of node.inner.flatMap((n) => n.inner ?? []).filter((n) => n.kind === 'ConstantExpr' && n.at && !n.at.macro))
      value.at.source.edit(value.at.begin, value.at.end, () => value.value);
  }

  predicate(node, body) {
    const only = body.inner?.length === 1 && body.inner[0].kind === 'ReturnStmt' ? body.inner[0].inner?.[0] : undefined;
    if (!only?.at || !/^(_Bool|bool) \(/.test(node.type.qualType) || !pure(only)) return;
    const parameters = node.inner.filter((n) => n.kind === 'ParmVarDecl').map((n) => n.name);
    this.functions.set(node.id, { parameters, at: only.at });
    const visit = (n) => {
      const name = n.kind === 'DeclRefExpr' && n.referencedDecl.kind === 'ParmVarDecl' ? n.referencedDecl.name : undefined;
      if (name && n.at) n.at.source.edit(n.at.begin, n.at.end, (given) => given?.get(name) ?? name);
      n.inner?.forEach(visit);
    };
    visit(only);
  }

  walk(node) {
    for (const child of node.inner ?? []) this.walk(child);
    if (node.kind === 'CallExpr' && node.at && calleeOf(node)?.name === '__builtin_isfinite') this.finite(node);
    if (!node.at || node.at.macro) return;
    if (node.kind === 'BinaryOperator' && COMPARES.has(node.opcode)) this.comparison(node);
    if (node.kind === 'BinaryOperator' && node.opcode === '*') this.square(node);
    if (node.kind === 'CallExpr') this.call(node);
  }

  square(node) {
    const { source, begin, end } = node.at;
    const [a, b] = node.inner.map((n) => (n.at && isPlace(n) && n.type.qualType.endsWith('double') ? source.text.slice(n.at.begin, n.at.end) : NaN));
    if (a === b) source.edit(begin, end, (given) => `proof_square(${source.render(node.inner[0].at.begin, node.inner[0].at.end, given)})`);
  }

  comparison(node) {
    const sides = node.inner;
    if (!sides.every((s) => s.type.qualType.replace('const ', '') === 'double' && s.at && pure(s))) return;
    const { source, begin, end } = node.at;
    const { lengths } = this;
    source.edit(begin, end, (given, self) => {
      const said = sides.map((s) => oneLine(source.render(s.at.begin, s.at.end, given)));
      const less = node.opcode.startsWith('<') ? 0 : 1;
      const numbers = sides.flatMap((s, i) => (isPlace(s) ? [`(${said[i]}) == (${said[i]})`] : []));
      const facts = [...numbers, ...hints(lengths, source, sides[less], said[1 - less], given)].map((f) => ` && FACT(${f})`);
      return `(${source.render(begin, end, given, self)}${facts.join('')})`;
    });
  }

  finite(node) {
    const { source, begin, end } = node.at;
    const facts = hints(this.lengths, source, node.inner[1], 'DBL_MAX').map((f) => ` && FACT(${f})`);
    if (facts.length > 0) source.edit(begin, end, (given, self) => `(${source.render(begin, end, given, self)}${facts.join('')})`);
  }

  call(node) {
    const callee = this.functions.get(calleeOf(node)?.id);
    const args = node.inner.slice(1);
    if (!callee || !args.every((a) => a.at && pure(a))) return;
    const { source, begin, end } = node.at;
    source.edit(begin, end, (given) => {
      const said = new Map(callee.parameters.map((name, i) => [name, `(${cast(args[i])}${oneLine(source.render(args[i].at.begin, args[i].at.end, given))})`]));
      const lines = source.text.slice(begin, end).split('\n').length - 1;
      return `(${oneLine(callee.at.source.render(callee.at.begin, callee.at.end, said))}${'\n'.repeat(lines)})`;
    });
  }
}

function bare(node) {
  return ['ImplicitCastExpr', 'ParenExpr'].includes(node.kind) ? bare(node.inner[0]) : node;
}

function calleeOf(node) {
  return bare(node.inner[0]).referencedDecl;
}

/** Something stored, which more can be known about afterwards. */
function isPlace(node) {
  const { kind, opcode } = bare(node);
  return ['DeclRefExpr', 'MemberExpr', 'ArraySubscriptExpr'].includes(kind) || (kind === 'UnaryOperator' && opcode === '*');
}

/** An argument that is no number of the parameter's kind becomes one in a call. */
function cast(arg) {
  return ['IntegralToFloating', 'FloatingCast', 'IntegralCast'].includes(arg.castKind) ? `(${arg.type.qualType})` : '';
}

/** What follows from this being at most so much. */
function hints(lengths, source, side, most, given) {
  const node = bare(side);
  const length = lengths.get(node.referencedDecl?.id);
  const hint = length ? HINTS.vec_norm : node.kind === 'CallExpr' ? HINTS[calleeOf(node)?.name] : undefined;
  const arg = length ?? node.inner?.[1];
  return hint && arg?.at && isPlace(arg) ? hint(oneLine(source.render(arg.at.begin, arg.at.end, given)), most) : [];
}

/** Variables that hold the length of a vector all the while: neither is written again, nor its address taken. */
function lengthsIn(fn) {
  const lengths = new Map();
  const written = new Set();
  const rootOf = (n) => (bare(n).kind === 'MemberExpr' && !bare(n).isArrow ? rootOf(bare(n).inner[0]) : bare(n).referencedDecl?.id);
  const visit = (n) => {
    const call = n.kind === 'VarDecl' && n.inner ? bare(n.inner[0]) : undefined;
    if (call?.kind === 'CallExpr' && calleeOf(call)?.name === 'vec_norm') lengths.set(n.id, call.inner[1]);
    const writes = n.kind === 'CompoundAssignOperator' || (n.kind === 'BinaryOperator' && n.opcode === '=');
    if (writes || (n.kind === 'UnaryOperator' && ['&', '++', '--'].includes(n.opcode))) written.add(rootOf(n.inner[0]));
    n.inner?.forEach(visit);
  };
  visit(fn);
  return new Map([...lengths].filter(([id, of]) => !written.has(id) && rootOf(of) && !written.has(rootOf(of))));
}

/** May it be said twice? */
function pure(node) {
  if (node.kind === 'CompoundAssignOperator' || node.kind === 'StmtExpr' || (node.kind === 'BinaryOperator' && node.opcode === '=')) return false;
  if (node.kind === 'UnaryOperator' && ['++', '--'].includes(node.opcode)) return false;
  if (node.kind === 'CallExpr' && node.inner.slice(1).some((a) => a.type.qualType.includes('*') && !a.type.qualType.startsWith('const'))) return false;
  return (node.inner ?? []).every(pure);
}

const PLACE = '([\\w.[\\]>-]+)';

/** The product of a vector with itself is a sum of squares. */
function squared(text) {
  return text.replace(new RegExp(`vec_dot\\(${PLACE}, \\1\\)`, 'g'), (_, v) => `(proof_square(${v}.x) + proof_square(${v}.y) + proof_square(${v}.z))`);
}

/** Writes the headers of policy/ and these of its files below `target`. */
export function rewrite(files, target) {
  const sources = new Map();
  for (const file of files) {
    const args = ['-Xclang', '-ast-dump=json', '-fsyntax-only', '-std=c11', '-I.', file];
    const dump = spawnSync('clang', args, { cwd: root, maxBuffer: 1 << 28, encoding: 'utf8' });
    if (dump.status !== 0) throw new Error(`clang ${args.join(' ')}\n${dump.stderr}`);
    new Reader(sources, (f) => f.startsWith('policy/')).read(JSON.parse(dump.stdout));
  }
  for (const file of [...find('policy', (f) => f.endsWith('.h')), ...files]) {
    const source = sources.get(file) ?? new Source(file);
    mkdirSync(join(target, dirname(file)), { recursive: true });
    writeFileSync(join(target, file), squared(source.render(0, source.text.length)), 'latin1');
  }
}
