/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/strangers.h"

#include <sys/socket.h>

void strangers_join(struct serve_peer *peer)
{
    struct serve *serve = peer->serve;
    peer->stranger = true;
    peer->older = serve->youngest;
    peer->younger = NULL;
    if (peer->older)
        peer->older->younger = peer;
    else
        serve->oldest = peer;
    serve->youngest = peer;
}

void strangers_leave(struct serve_peer *peer)
{
    struct serve *serve = peer->serve;
    if (!peer->stranger)
        return;
    peer->stranger = false;
    if (peer->older)
        peer->older->younger = peer->younger;
    else
        serve->oldest = peer->younger;
    if (peer->younger)
        peer->younger->older = peer->older;
    else
        serve->youngest = peer->older;
}

/* The oldest of the address with the most strangers; among such addresses, the one whose oldest came first. */
static struct serve_peer *choose(const struct serve *serve)
{
    struct serve_peer *chosen = NULL;
    uint32_t most = 0;
    for (struct serve_peer *peer = serve->oldest; peer; peer = peer->younger) {
        uint32_t here = door_strangers_of(&serve->door, peer->address);
        if (here > most) {
            most = here;
            chosen = peer;
        }
    }
    return chosen;
}

/* Its place is free at once. The library would first wait for what it has yet to send, so the socket is ended under it.
 */
static void cut_off(struct serve_peer *peer)
{
    struct lws *wsi = peer->wsi;
    peer->serve->counts.turned_away++;
    peer->close_code = SERVE_CLOSE_BUSY;
    peer->close_sent = peer->deaf = true; /* whatever is still on its way, either way, is not for anybody */
    session_leave(peer);
    shutdown(lws_get_socket_fd(wsi), SHUT_RDWR);
    lws_set_timeout(wsi, PENDING_TIMEOUT_USER_OK, LWS_TO_KILL_SYNC); /* peer may be gone from here on */
}

void strangers_make_room(struct serve *serve)
{
    if (door_strangers(&serve->door) < serve->cfg.strangers)
        return;
    struct serve_peer *peer = choose(serve);
    if (peer)
        cut_off(peer);
}
