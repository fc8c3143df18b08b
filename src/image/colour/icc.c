// SPDX-License-Identifier: Apache-2.0
#include "image/colour/colour.h"
#include "image/colour/icc_priv.h"

#include <lcms2.h>

enum { ICC_DATE_AT = 24, ICC_DATE_BYTES = 12 };

enum pc_status pc_colour_srgb_profile(uint8_t **bytes, size_t *count, struct pc_err *err)
{
    // Year, month, day, hour, minute, second, as big-endian 16-bit numbers. The engine writes the present
    // time, and the same picture is to give the same bytes.
    static const uint8_t date[ICC_DATE_BYTES] = {0x07, 0xd0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0};
    cmsHPROFILE profile = cmsCreate_sRGBProfileTHR(NULL);
    cmsUInt32Number size = 0;
    uint8_t *made = NULL;
    if (profile != NULL && cmsSaveProfileToMem(profile, NULL, &size) && size > ICC_DATE_AT + ICC_DATE_BYTES) {
        made = malloc(size);
        if (made != NULL && !cmsSaveProfileToMem(profile, made, &size)) {
            free(made);
            made = NULL;
        }
    }
    if (profile != NULL)
        cmsCloseProfile(profile);
    if (made == NULL)
        return pc_fail(
            err, PC_NO_MEMORY, NULL,
            "The sRGB colour profile could not be made: there is no memory left. Close other programs "
            "and try again.");
    memcpy(made + ICC_DATE_AT, date, sizeof date);
    *bytes = made;
    *count = size;
    return PC_OK;
}

bool pc_icc_xyz_from_rgb(const uint8_t *bytes, size_t count, const double rgb[3], double xyz[3])
{
    cmsHPROFILE profile = count <= UINT32_MAX ? cmsOpenProfileFromMem(bytes, (cmsUInt32Number)count) : NULL;
    cmsHPROFILE pcs = cmsCreateXYZProfile();
    cmsHTRANSFORM transform = NULL;
    if (profile != NULL && pcs != NULL)
        transform = cmsCreateTransform(profile, TYPE_RGB_DBL, pcs, TYPE_XYZ_DBL, INTENT_RELATIVE_COLORIMETRIC,
                                       cmsFLAGS_NOOPTIMIZE | cmsFLAGS_NOCACHE);
    if (transform != NULL) {
        cmsDoTransform(transform, rgb, xyz, 1);
        cmsDeleteTransform(transform);
    }
    if (profile != NULL)
        cmsCloseProfile(profile);
    if (pcs != NULL)
        cmsCloseProfile(pcs);
    return transform != NULL;
}
