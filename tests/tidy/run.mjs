// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors
//
// node tests/tidy/run.mjs [BUILD FOLDER]: holds the tree against the habits that DEVELOPERS.md names. Prints TAP.
import { objectRules } from './objects.mjs';
import { sizeRules } from './sizes.mjs';
import { wordRules } from './words.mjs';

const rules = [...sizeRules, ...wordRules, ...objectRules];
console.log(`1..${rules.length}`);
rules.forEach((rule, i) => {
  const offences = rule.offences();
  if (offences.length > 0) process.exitCode = 1;
  console.log(`${offences.length === 0 ? 'ok' : 'not ok'} ${i + 1} - ${rule.name}`);
  for (const offence of offences) console.log(`#   ${offence}`);
});
