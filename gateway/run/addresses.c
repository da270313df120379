/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/run/addresses.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "gateway/run/qr.h"

enum { PASS_HOURS = 12 };

void addresses_base(const struct show_listener *listener, char base[64])
{
    const char *host = strcmp(listener->host, "0.0.0.0") == 0 ? "127.0.0.1" : listener->host;
    snprintf(base, 64, "http://%.15s:%u", host, listener->port);
}

static bool mint(const struct pass_secrets *secrets, enum pass_role role, char text[PASS_MAX])
{
    struct pass pass = {.role = role, .expires_s = (uint64_t)time(NULL) + PASS_HOURS * 3600};
    snprintf(pass.name, sizeof pass.name, "%s", pass_role_name(role));
    return pass_mint(secrets->passes, &pass, text);
}

bool addresses_make(const struct show *show, const char *state_dir, struct addresses *out)
{
    struct pass_secrets secrets;
    if (pass_secrets_load(state_dir, &secrets) != 0)
        return false;
    addresses_base(&show->audience, out->audience);
    addresses_base(&show->desk, out->desk);
    out->this_machine_only = strncmp(show->desk.host, "127.", 4) == 0;
    bool minted = mint(&secrets, PASS_OPERATOR, out->operator_pass) && mint(&secrets, PASS_SPOTTER, out->spotter_pass);
    explicit_bzero(&secrets, sizeof secrets);
    if (!minted)
        fprintf(stderr, "steadyhand: passes cannot be made\n");
    return minted;
}

void addresses_url(const char *desk, enum pass_role role, const char *pass, char url[ADDRESSES_URL])
{
    snprintf(url, ADDRESSES_URL, "%s/%s%s%s", desk, role == PASS_SPOTTER ? "stop" : "", pass ? "#pass=" : "",
             pass ? pass : "");
}

/* An address of this machine that a phone might reach; "" if there is none. */
static void find_own(char own[INET_ADDRSTRLEN])
{
    struct ifaddrs *all = NULL;
    own[0] = '\0';
    if (getifaddrs(&all) != 0)
        return;
    for (struct ifaddrs *i = all; i && !own[0]; i = i->ifa_next) {
        struct sockaddr_in in;
        if (!i->ifa_addr || i->ifa_addr->sa_family != AF_INET || i->ifa_flags & IFF_LOOPBACK ||
            !(i->ifa_flags & IFF_UP))
            continue;
        memcpy(&in, i->ifa_addr, sizeof in);
        inet_ntop(AF_INET, &in.sin_addr, own, INET_ADDRSTRLEN);
    }
    freeifaddrs(all);
}

static void print_cautions(FILE *out)
{
    fputs("\n"
          "Take care\n"
          "  The stop here is a software stop, not an emergency stop device: keep a wired one within reach of the\n"
          "  operator and the spotter.\n"
          "  A suspended load: nobody under the camera or where it may swing. One failed cord moves it sideways.\n"
          "  Unsure of position, tension or link? Stop, lower the rig by its own means, disarm.\n"
          "  This software is not certified to any safety standard.\n",
          out);
}

static void print_reach(const struct addresses *addresses, FILE *out)
{
    char own[INET_ADDRSTRLEN];
    if (!addresses->this_machine_only) {
        fputs("Pages and passes travel unencrypted: use a network that you trust.\n", out);
        return;
    }
    find_own(own);
    fprintf(out,
            "This address works on this machine only. For a phone, start again with --lan %s,\n"
            "the address of this machine on the network the phone is in.\n",
            own[0] ? own : "ADDRESS");
}

static void print_qr(const char *stop, FILE *out)
{
    fputs("\nThe stop page, for the spotter's phone:\n\n", out);
    if (!qr_print(out, stop, isatty(fileno(out))))
        fputs("  (no QR code could be made; use the address above)\n", out);
}

/* Whoever can read a log later must not be able to open the desk with it. */
static void print_how_to_get_passes(FILE *out)
{
    fputs("\nDesk and stop page need a pass in their address, #pass=... The passes are not printed here, since this is "
          "no\n"
          "terminal: `steadyhand pass` makes one, --json-ready FILE has them for scripts, --print-passes prints them "
          "all\n"
          "the same.\n",
          out);
}

void addresses_print(const struct addresses *addresses, bool with_passes, FILE *out)
{
    char desk[ADDRESSES_URL], stop[ADDRESSES_URL];
    addresses_url(addresses->desk, PASS_OPERATOR, with_passes ? addresses->operator_pass : NULL, desk);
    addresses_url(addresses->desk, PASS_SPOTTER, with_passes ? addresses->spotter_pass : NULL, stop);
    fprintf(out, "\n  audience   %s/\n  desk       %s\n  stop page  %s\n", addresses->audience, desk, stop);
    print_cautions(out);
    if (with_passes)
        print_qr(stop, out);
    else
        print_how_to_get_passes(out);
    print_reach(addresses, out);
    fflush(out);
}

static void write_json(const struct addresses *a, const struct addresses_pids *pids, FILE *out)
{
    fprintf(out, "{\n  \"audience\": \"%s\",\n  \"desk\": \"%s\",\n", a->audience, a->desk);
    fprintf(out, "  \"operator_pass\": \"%s\",\n  \"spotter_pass\": \"%s\",\n", a->operator_pass, a->spotter_pass);
    fprintf(out, "  \"pids\": {\"core\": %d, \"edges\": [", (int)pids->core);
    for (int i = 0; i < pids->edges; i++)
        fprintf(out, "%s%d", i ? ", " : "", (int)pids->edge[i]);
    fprintf(out, "], \"rig_sim\": %d}\n}\n", (int)pids->rig_sim);
}

bool addresses_write(const struct addresses *addresses, const struct addresses_pids *pids, const char *path)
{
    char draft[4096];
    bool fits = (size_t)snprintf(draft, sizeof draft, "%s.new", path) < sizeof draft;
    if (fits)
        unlink(draft); /* left over, perhaps with a wider mode */
    int fd = fits ? open(draft, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600) : -1;
    FILE *out = fd >= 0 ? fdopen(fd, "w") : NULL;
    if (out)
        write_json(addresses, pids, out);
    bool good = out && !ferror(out);
    if (out && fclose(out) != 0)
        good = false;
    if (good && rename(draft, path) == 0)
        return true;
    fprintf(stderr, "steadyhand: %s: %s\n", path, fits ? strerror(errno) : "the path is too long");
    return false;
}
