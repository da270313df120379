/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The file as a whole, and what it says of the show, the audience and the desk. The schema for editors,
 * deploy/schema/show.schema.json, says the same; a unit test holds the two together. */
#include "gateway/show/layout_rows.h"

static const struct field about_rows[] = {
    TEXT("name", 1, SHOW_NAME, AT(show.name), "the name of the show, as viewers read it"),
    TEXT("house_rules", 0, SHOW_RULES, AT(show.rules), "what viewers are told about good manners"),
};
static const struct field_table about = TABLE(about_rows);

static const struct field poll_rows[] = {
    SECONDS("round_s", 1, 600, AT(show.crowd.poll.round_ns), "how long a round of voting is open"),
    SECONDS("grace_s", 0.05, 10, AT(show.crowd.poll.grace_ns), "the wait for votes under way when a round closes"),
    NUMBER("step_m", 0.01, 5, "m", AT(show.crowd.step_m), "how far the camera moves when a vote is won"),
    NUMBER("suspected_false_share", 0, 0.5, NULL, AT(show.crowd.poll.sigma),
           "the share of voices that may not be honest; a change needs half of it more than half the votes"),
    WHOLE("quorum", 1, 1000000, AT(show.crowd.poll.quorum), "the fewest votes that count"),
};
static const struct field_table poll = TABLE(poll_rows);

static const struct field blend_rows[] = {
    WHOLE("quorum", 1, 1000000, AT(show.crowd.blend_quorum), "the fewest held sticks that count"),
};
static const struct field_table blend = TABLE(blend_rows);

static const struct field origin = {ROW(FIELD_ORIGIN, NULL, 8, SHOW_ORIGIN - 1, NULL, 0, "a page that may connect")};

#define LISTENER(name)                                                                                                 \
    static const struct field name##_rows[] = {                                                                        \
        HOST(AT(name.host)),                                                                                           \
        WHOLE("port", 1, 65535, AT(name.port), "the TCP port to listen on"),                                           \
        {ROW(FIELD_LIST, "origins", 0, SHOW_ORIGINS, NULL, AT(name.origins),                                           \
             "the origins that may connect; none: pages opened by address, or as localhost"),                          \
         .item = &origin, .first = AT(name.origin), .stride = SHOW_ORIGIN, .optional = true},                          \
    };                                                                                                                 \
    static const struct field_table name = TABLE(name##_rows)
LISTENER(audience_listen);
LISTENER(desk_listen);

#define ADMIT(member) AT(show.admission.member)
static const struct field audience_rows[] = {
    WORD("mode", AT(first_mode), "how viewers steer when the show starts", "closed", "poll", "blend"),
    NUMBER("scale", 0, 1, NULL, AT(show.audience_scale), "the share of the audience's speed in force at start"),
    OBJECT("poll", poll, "the rules of the vote"),
    OBJECT("blend", blend, "the rules of the shared stick"),
    NUMBER("goal_timeout_s", 0.5, 120, "s", AT(show.policy.lanes.goal_timeout_s), "when a step not reached is dropped"),
    SECONDS("crowd_lease_s", 0.1, 5, AT(show.crowd_lease_ns), "the silence after which an edge loses its voice"),
    SPARE_NUMBER("lag_s", 0, 60, "s", 20, AT(lag_s),
                 "how late viewers see the camera; the worst that is common if left out"),
    OBJECT("listen", audience_listen, "where the audience page is served"),
    WHOLE("edges", 1, 16, AT(edges), "the number of processes that serve viewers"),
    WHOLE("max_viewers", 1, 100000, ADMIT(max_viewers), "the most viewers an edge lets in"),
    WHOLE("max_per_address", 1, 100000, ADMIT(max_per_address), "the most viewers from one address"),
    WHOLE("message_bytes", 64, 4096, ADMIT(message_bytes), "the longest message a viewer may send"),
    WHOLE("header_bytes", 512, 65536, ADMIT(header_bytes), "the longest request header"),
    NUMBER("handshake_s", 0.5, 60, "s", ADMIT(handshake_s), "the time a viewer has to connect"),
    NUMBER("wishes_per_s", 0.1, 100, "1/s", AT(wishes_per_s), "the wishes a viewer may send in the long run"),
    WHOLE("wish_burst", 1, 100, AT(wish_burst), "the wishes a viewer may send at once"),
};
static const struct field_table audience_table = TABLE(audience_rows);

static const struct field desk_rows[] = {
    OBJECT("listen", desk_listen, "where the desk and the stop page are served"),
    FLAG("presence_required", AT(show.policy.presence_required), "whether the rig stops when no operator is connected"),
    SECONDS("presence_timeout_s", 0.5, 10, AT(show.policy.presence_timeout_ns),
            "the silence after which an operator counts as gone"),
    SECONDS("operator_lease_s", 0.5, 5, AT(show.operator_lease_ns),
            "the silence after which an operator who holds control lets go"),
    {ROW(FIELD_SECONDS, "spotter_lease_s", 0.2, 5, "s", AT(show.policy.spotter_timeout_ns),
         "the silence after which a spotter's hold on the enabling device lapses"),
     SPARE(1)},
};
static const struct field_table desk_table = TABLE(desk_rows);

#define CATEGORY(key, what)                                                                                            \
    SPARE_WHOLE(#key, 0, 2, LAYOUT_CATEGORY, AT(stop.key), "the stop category (IEC 60204-1) " what)
static const struct field category_rows[] = {
    CATEGORY(operator, "when an operator presses stop"),
    CATEGORY(spotter, "when a spotter does"),
    CATEGORY(moderator, "when a moderator does"),
    CATEGORY(inhibit, "when a condition stops it: a fault, a lost link, a late tick"),
};
static const struct field_table category = TABLE(category_rows);

static const struct field stop_rows[] = {
    SPARE_OBJECT("category", category, AT(stop.categories),
                 "0 power off at once, 1 braked to rest, then power off, 2 braked to rest and held under power"),
    SPARE_NUMBER("confirm_s", 0.1, 5, "s", LAYOUT_CONFIRM_S, AT(stop.confirm_s),
                 "the time a rig has to confirm a stop; one that does not is stopped with category 0"),
    SPARE_NUMBER("standstill_s", 0.5, 60, "s", LAYOUT_STANDSTILL_S, AT(stop.standstill_s),
                 "the time a rig has to be seen at rest after a stop; likewise"),
};
static const struct field_table stop_table = TABLE(stop_rows);

static const struct field file_rows[] = {
    {ROW(FIELD_TEXT, "$schema", 1, SHOW_RULES - 1, NULL, AT(schema), "for editors: the schema of this file"),
     .optional = true},
    OBJECT("show", about, "what the show is called"),
    OBJECT("rig", layout_rig, "the machine"),
    OBJECT("room", layout_room, "the space it moves in"),
    OBJECT("limits", layout_limits, "how it may move"),
    SPARE_OBJECT("stop", stop_table, AT(stop.given), "how a stop is done, and what becomes of one that is not obeyed"),
    OBJECT("audience", audience_table, "what viewers may do"),
    OBJECT("desk", desk_table, "what the people in charge use"),
};
const struct field_table layout_file = TABLE(file_rows);
