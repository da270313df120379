// SPDX-License-Identifier: Apache-2.0
// Copyright The Steadyhand authors

/* All the hands on one stick: pointer, buttons, keys, gamepad. */
import { Hub } from './hub';
import type { Vec3 } from './messages';
import { REST, together } from './stick';

export class StickHub extends Hub<Vec3> {
  constructor() { super(REST, together); }
}
