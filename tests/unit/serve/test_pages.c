/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/serve/pages.h"

#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[] = "/tmp/steadyhand-pages-XXXXXX";

static void write_file(const char *name, const char *text)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *f = fopen(path, "w");
    cr_assert(f);
    fputs(text, f);
    fclose(f);
}

static void remove_file(const char *name)
{
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    remove(path);
}

static void set_up(void)
{
    cr_assert(mkdtemp(folder));
    write_file("index.html", "<p>audience");
    write_file("stop.html", "<p>stop");
    write_file("audience.js", "1;");
    write_file(".hidden", "secret");
}

static void tear_down(void)
{
    static const char *const names[] = {"index.html", "stop.html", "audience.js", ".hidden", "sub"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        remove_file(names[i]);
    rmdir(folder);
}

TestSuite(pages, .init = set_up, .fini = tear_down);

static void expect_page(const struct pages *pages, const char *path, const char *text, const char *type)
{
    const struct page *page = pages_find(pages, path);
    cr_assert(page, "%s", path);
    cr_expect_eq(page->len, strlen(text));
    cr_expect_arr_eq(page->data, text, page->len);
    cr_expect_str_eq(page->type, type);
}

Test(pages, are_found_by_name)
{
    static struct pages pages;
    cr_assert(pages_load(&pages, folder, "index.html"));
    expect_page(&pages, "/", "<p>audience", "text/html; charset=utf-8");
    expect_page(&pages, "/index.html", "<p>audience", "text/html; charset=utf-8");
    expect_page(&pages, "/stop", "<p>stop", "text/html; charset=utf-8");
    expect_page(&pages, "/audience.js", "1;", "text/javascript; charset=utf-8");
    cr_expect_str_neq(pages_find(&pages, "/")->etag, pages_find(&pages, "/stop")->etag);
    pages_free(&pages);
}

Test(pages, nothing_else_is_found)
{
    static struct pages pages;
    cr_assert(pages_load(&pages, folder, "index.html"));
    static const char *const paths[] = {"",        "index.html", "//index.html", "/../pages/index.html", "/.hidden",
                                        "/hidden", "/stop/",     "/Stop",        "/index.html/x",        "/..",
                                        "/.",      "/etc/passwd"};
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++)
        cr_expect_not(pages_find(&pages, paths[i]), "%s", paths[i]);
    char longest[400];
    memset(longest, 'a', sizeof longest);
    longest[0] = '/';
    longest[sizeof longest - 1] = '\0';
    cr_expect_not(pages_find(&pages, longest));
    pages_free(&pages);
}

Test(pages, later_changes_on_disk_change_nothing)
{
    static struct pages pages;
    cr_assert(pages_load(&pages, folder, "index.html"));
    write_file("index.html", "<p>other");
    expect_page(&pages, "/", "<p>audience", "text/html; charset=utf-8");
    pages_free(&pages);
}

Test(pages, folders_inside_are_left_alone)
{
    static struct pages pages;
    char sub[128];
    snprintf(sub, sizeof sub, "%s/sub", folder);
    cr_assert_eq(mkdir(sub, 0700), 0);
    cr_assert(pages_load(&pages, folder, "index.html"));
    cr_expect_eq(pages.count, 3);
    pages_free(&pages);
    rmdir(sub);
}

Test(pages, missing_folder_or_index_is_an_error)
{
    static struct pages pages;
    cr_expect_not(pages_load(&pages, "/nonexistent", "index.html"));
    cr_expect_not(pages_load(&pages, folder, "desk.html"));
    cr_expect_eq(pages.count, 0);
}

Test(pages, every_answer_is_strict)
{
    char head[PAGES_HEAD_MAX];
    struct pages_answer answer = {.status = "200 OK", .type = "text/html", .etag = "\"1\"", .length = 7};
    size_t len = pages_head(&answer, head);
    cr_assert_gt(len, 0);
    static const char *const lines[] = {"HTTP/1.1 200 OK\r\n",
                                        "Content-Length: 7\r\n",
                                        "ETag: \"1\"\r\n",
                                        "default-src 'self'",
                                        "connect-src 'self'",
                                        "frame-ancestors 'none'",
                                        "X-Content-Type-Options: nosniff\r\n",
                                        "X-Frame-Options: DENY\r\n",
                                        "Referrer-Policy: no-referrer\r\n",
                                        "Connection: keep-alive\r\n\r\n"};
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        cr_expect(strstr(head, lines[i]), "%s", lines[i]);
    cr_expect_not(strstr(head, "unsafe"));
}
