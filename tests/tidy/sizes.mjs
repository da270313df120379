// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// How long files and functions are.
import ts from 'typescript';
import { files, isC, isSource, isWeb, lines, text } from './files.mjs';

const FILE_LINES = 400;
const FUNCTION_LINES = 60;
const USUAL_LINES = 35; // nine of ten functions
const MEDIAN_LINES = 15;

/** clang-format puts a function's braces, and nothing else's, alone in the first column. */
function functionsOfC(file) {
  const found = [];
  const all = lines(file);
  let open = -1;
  all.forEach((line, i) => {
    if (line === '{') open = i;
    if (line === '}' && open >= 0) {
      const name = /(\w+)\(/.exec(all.slice(Math.max(0, open - 4), open).reverse().find((l) => /^\w.*\(/.test(l)) ?? '');
      found.push({ file, line: open + 1, name: name?.[1] ?? '?', length: i - open - 1 });
      open = -1;
    }
  });
  return found;
}

/** A describe() block groups tests; it is no function anybody reads as one. */
function isGroup(node) {
  return ts.isCallExpression(node.parent) && /^(describe|suite)$/.test(node.parent.expression.getText());
}

function functionsOfWeb(file) {
  const found = [];
  const source = ts.createSourceFile(file, text(file), ts.ScriptTarget.Latest, true,
    file.endsWith('x') ? ts.ScriptKind.TSX : undefined);
  const line = (pos) => source.getLineAndCharacterOfPosition(pos).line;
  const visit = (node) => {
    if (ts.isFunctionLike(node) && node.body && !isGroup(node)) {
      const [from, to] = [line(node.body.getStart()), line(node.body.end)];
      found.push({ file, line: from + 1, name: node.name?.getText() ?? '(anonymous)', length: Math.max(0, to - from - 1) });
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

const functions = [...files.filter((f) => f.endsWith('.c')).flatMap(functionsOfC), ...files.filter(isWeb).flatMap(functionsOfWeb)];

function quantile(q) {
  const sorted = functions.map((f) => f.length).sort((a, b) => a - b);
  return sorted[Math.floor(q * (sorted.length - 1))] ?? 0;
}

export const sizeRules = [
  {
    name: `no file has more than ${FILE_LINES} lines`,
    offences: () => files.filter(isSource).filter((f) => lines(f).length - 1 > FILE_LINES).map((f) => `${f}: ${lines(f).length - 1} lines`),
  },
  {
    name: `no function has more than ${FUNCTION_LINES} lines`,
    offences: () => functions.filter((f) => f.length > FUNCTION_LINES).map((f) => `${f.file}:${f.line}: ${f.name} has ${f.length} lines`),
  },
  {
    name: `functions are short: median at most ${MEDIAN_LINES} lines, nine of ten at most ${USUAL_LINES}`,
    offences: () => [
      ...(quantile(0.5) > MEDIAN_LINES ? [`median ${quantile(0.5)}`] : []),
      ...(quantile(0.9) > USUAL_LINES ? [`nine of ten: ${quantile(0.9)}`] : []),
      ...(functions.length < 1 && files.some(isC) ? ['no function was found: the check itself is broken'] : []),
    ],
  },
];
