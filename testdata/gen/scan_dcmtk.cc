// The bar for reading DICOM: dcmtk loads every file of a folder.
//   scan_dcmtk full DIR   DcmFileFormat::loadFile and access to the pixels as 16-bit words
//   scan_dcmtk head DIR   loadFileUntilTag up to the pixels
// Prints seconds, files and a sum that keeps the work from being left out. Built by scan_bench.sh against Debian's libdcmtk-dev.
#include <dcmtk/config/osconfig.h>
#include <dcmtk/dcmdata/dctk.h>
#include <chrono>
#include <cstdio>
#include <cstring>
#include <filesystem>
#include <vector>

int main(int argc, char **argv) {
    if (argc != 3) return 2;
    bool full = !strcmp(argv[1], "full");
    std::vector<std::string> files;
    for (auto &e : std::filesystem::directory_iterator(argv[2])) files.push_back(e.path().string());
    unsigned long sum = 0;
    std::vector<Uint16> volume(full ? files.size() * 512 * 512 : 0);
    auto start = std::chrono::steady_clock::now();
    size_t n = 0;
    for (auto &f : files) {
        DcmFileFormat d;
        OFCondition c = full ? d.loadFile(f.c_str()) : d.loadFileUntilTag(f.c_str(), EXS_Unknown, EGL_noChange, DCM_MaxReadLength, ERM_autoDetect, DCM_PixelData);
        if (c.bad()) { fprintf(stderr, "%s: %s\n", f.c_str(), c.text()); return 1; }
        OFString position;
        d.getDataset()->findAndGetOFStringArray(DCM_ImagePositionPatient, position);
        sum += position.size();
        if (full) {
            const Uint16 *p = NULL;
            unsigned long count = 0;
            if (d.getDataset()->findAndGetUint16Array(DCM_PixelData, p, &count).bad()) return 1;
            memcpy(&volume[n++ * 512 * 512], p, 2 * std::min(count, 512UL * 512UL));
            sum += volume[n * 512 * 512 - 1];
        }
    }
    double s = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    printf("%.4f %zu %lu\n", s, files.size(), sum);
}
