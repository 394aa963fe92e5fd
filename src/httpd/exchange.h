// SPDX-License-Identifier: GPL-3.0-or-later
// What libmicrohttpd calls while a request proceeds.
#ifndef HW_HTTPD_EXCHANGE_H
#define HW_HTTPD_EXCHANGE_H

#include "httpd_internal.h"

/// The request line is in: makes the exchange that is `*state` from then on.
void *http_begin(void *user, const char *uri, struct MHD_Connection *connection);

/// Called once with the head, then with each piece of the body, then without until a reply stands.
enum MHD_Result http_handle(void *user, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *piece,
                            size_t *piece_bytes, void **state);

/// The request is over, well or not.
void http_end(void *user, struct MHD_Connection *connection, void **state,
              enum MHD_RequestTerminationCode how);

#endif
