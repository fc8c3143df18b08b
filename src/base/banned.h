// SPDX-License-Identifier: Apache-2.0
// Calls that are never right here, barred at compile time. Included by err.h, and so everywhere.
#ifndef PC_BASE_BANNED_H
#define PC_BASE_BANNED_H

#ifndef __cplusplus
#pragma GCC poison sprintf vsprintf strcpy strcat strtok gmtime localtime rand srand atof atoi setlocale
#endif

#endif
