/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Is a text well-formed XML 1.0 (W3C Recommendation, fifth edition, section 2.1), as far as drawings use it: one root,
 * tags that match, attributes quoted and none twice, references that exist, characters of production [2] only, ids that
 * are unique? No DTD, no comments, no CDATA: a text with one is refused.
 */
#ifndef STEADYHAND_TESTS_UNIT_SURVEY_XML_H
#define STEADYHAND_TESTS_UNIT_SURVEY_XML_H

#include <stdbool.h>

/* On a fault *why says what and *at where. */
bool xml_well_formed(const char *text, const char **why, const char **at);

#endif
