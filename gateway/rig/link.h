/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Core's end of the rig link: one UDP socket, the hello, sealed intents and stops out, checked telemetry in.
 *
 * Threads: link_poll and link_send_intent belong to the tick thread. link_send_stop may be called from any thread at
 * any time; it takes no lock: session and sequence are atomics, and the datagram goes out with one sendto(). Nothing
 * allocates after link_open.
 */
#ifndef STEADYHAND_RIG_LINK_H
#define STEADYHAND_RIG_LINK_H

#include <stdatomic.h>

#include "gateway/rig/link_report.h"
#include "gateway/rig/seal.h"

struct link_counts {
    uint64_t sent_intents, sent_stops, got_telemetry;
    uint64_t bad_tag, bad_form, bad_session, bad_seq, send_errors;
};

struct link {
    int fd;
    struct seal_keys keys;
    const struct show_sensor *sensors;         /* SHOW_SOURCES of them; not owned */
    _Atomic uint64_t session;                  /* 0 = no session yet */
    _Atomic uint64_t next_seq;                 /* shared by intents and stops; never starts over */
    _Atomic uint64_t rig_stop_count;           /* highest stop count the rig has confirmed in this session */
    _Atomic uint64_t stops_sent, stops_failed; /* folded into counts by link_poll */
    uint64_t offered;           /* session confirmed to the rig, not yet heard from; 0 = none. Tick thread only, */
    uint64_t seen_seq;          /* as all below */
    uint64_t rig_ns, rig_ns_at; /* newest rig time, and core's clock when it came */
    struct link_report_clock clock;
    uint64_t hello_at;
    uint8_t core_nonce[WIRE_NONCE];
    bool hello_pending;
    uint64_t taken_ns;   /* core's clock, when the rig last said that it obeys another core, 0 = not since the present
                            session began */
    uint64_t intent_seq; /* of the last intent sent */
    uint64_t intent_errors;
    struct link_counts counts; /* as of the last link_poll */
    struct wire_telemetry last;
};

/* Opens and connects the socket to host:port (IPv4 literal); nothing is sent yet. 0 or -errno. sensors:
 * SHOW_SOURCES of them, the show's; they must outlive the link. */
int link_open(struct link *link, const char *host, uint16_t port, const uint8_t master[SEAL_KEY],
              const struct show_sensor *sensors);
void link_close(struct link *link);

/* Reads what has arrived (at most 16 datagrams a call), runs the hello (again each 250 ms while there is no session, or
 * after `lost` is passed true), and fills *report with the newest telemetry (link_report.h); a fault of the rig and a
 * lapse are both reported as fault. Returns true if new telemetry came.
 * *new_session is set if a session began in this call. */
bool link_poll(struct link *link, uint64_t now_ns, bool lost, struct rig_report *report, bool *new_session);

/* Seals and sends one intent, valid for lease_ns from now by the rig's clock. Without a session nothing is sent. An
 * intent that cannot be put on the wire (not finite) goes out as one without motion. */
void link_send_intent(struct link *link, const struct intent *intent, uint64_t lease_ns, uint64_t now_ns);

/* The rig has said lately, in answer to a hello of ours, that it obeys another core (sim_session.h). Tick thread. */
bool link_taken(const struct link *link, uint64_t now_ns);

/* Seals and sends one stop. Any thread. Returns false without a session or if sendto failed. */
bool link_send_stop(struct link *link, uint64_t stop_count, enum reason why, enum stop_category category);

/* True once the rig has confirmed this stop count or a higher one in the present session. Any thread. */
bool link_stop_confirmed(struct link *link, uint64_t stop_count);

#endif
