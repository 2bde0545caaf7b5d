/* A disk that fails and a disk that is written down, below every library of a process.
 *
 * Preloaded (LD_PRELOAD), it stands between the process and the system for all that changes files
 * under FAULT_ROOT.
 *   FAULT_LOG    each change and each sync is appended to this file, in the order in which it was done
 *   FAULT_AT     the number of the call, from 1, that fails (writes, syncs, lengths, names)
 *   FAULT_ERRNO  with what (5: EIO, 28: ENOSPC)
 *   FAULT_STAYS  1: all later calls of that kind fail as well, as on a disk that is dead or full
 * A failing sync fails with FAULT_ERRNO as well. Made by tests/outside/test_faults.py with cc.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

static pthread_mutex_t turn = PTHREAD_MUTEX_INITIALIZER;
static const char *root, *log_path;
static size_t root_length;
static long fail_at, fail_errno, fail_stays, calls;
static int ready, log_fd = -1;

#define REAL(type, name, ...) \
    static type (*real_##name)(__VA_ARGS__); \
    if (!real_##name) real_##name = (type (*)(__VA_ARGS__))dlsym(RTLD_NEXT, #name)

static void begin(void) {
    if (ready) return;
    ready = 1;
    root = getenv("FAULT_ROOT");
    log_path = getenv("FAULT_LOG");
    root_length = root ? strlen(root) : 0;
    const char *at = getenv("FAULT_AT"), *no = getenv("FAULT_ERRNO"), *stays = getenv("FAULT_STAYS");
    fail_at = at ? atol(at) : 0;
    fail_errno = no ? atol(no) : EIO;
    fail_stays = stays ? atol(stays) : 0;
    if (log_path) {
        REAL(int, open, const char *, int, ...);
        log_fd = real_open(log_path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0600);
    }
}

static int ours(const char *path) {
    return root && strncmp(path, root, root_length) == 0 &&
           (path[root_length] == '/' || path[root_length] == 0);
}

/* The path of an open file; 0 where it is not ours. */
static int path_of(int fd, char *path) {
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, 4095);
    if (n <= 0) return 0;
    path[n] = 0;
    return ours(path);
}

static int absolute(int dir, const char *path, char *out) {
    if (path[0] == '/') {
        snprintf(out, 4096, "%s", path);
    } else if (dir == AT_FDCWD) {
        char here[2048];
        if (!getcwd(here, sizeof here)) return 0;
        snprintf(out, 4096, "%s/%s", here, path);
    } else {
        char link[64], base[2048];
        snprintf(link, sizeof link, "/proc/self/fd/%d", dir);
        ssize_t n = readlink(link, base, sizeof base - 1);
        if (n <= 0) return 0;
        base[n] = 0;
        snprintf(out, 4096, "%s/%s", base, path);
    }
    return ours(out);
}

/* Whether this call is to fail; sets errno. */
static int fails(void) {
    calls++;
    if (fail_at && (calls == fail_at || (fail_stays && calls > fail_at))) {
        errno = (int)fail_errno;
        return 1;
    }
    return 0;
}

/* op, inode, offset, lengths, then path, other path and bytes: one write, so one piece. */
static void note(char op, uint64_t inode, uint64_t offset, const char *path, const char *other,
                 const struct iovec *parts, int count, size_t length) {
    if (log_fd < 0) return;
    uint32_t lengths[3] = {(uint32_t)strlen(path), other ? (uint32_t)strlen(other) : 0, (uint32_t)length};
    char head[1 + 16 + 12];
    head[0] = op;
    memcpy(head + 1, &inode, 8);
    memcpy(head + 9, &offset, 8);
    memcpy(head + 17, lengths, 12);
    size_t whole = sizeof head + lengths[0] + lengths[1] + length, at = 0;
    char *all = malloc(whole);
    if (!all) abort();
    memcpy(all, head, sizeof head);
    at = sizeof head;
    memcpy(all + at, path, lengths[0]);
    at += lengths[0];
    if (other) memcpy(all + at, other, lengths[1]);
    at += lengths[1];
    for (int i = 0; i < count && length; i++) {
        size_t part = parts[i].iov_len < length ? parts[i].iov_len : length;
        memcpy(all + at, parts[i].iov_base, part);
        at += part;
        length -= part;
    }
    REAL(ssize_t, write, int, const void *, size_t);
    if (real_write(log_fd, all, whole) != (ssize_t)whole) abort();
    free(all);
}

static uint64_t inode_of(int fd) {
    struct stat about;
    return fstat(fd, &about) == 0 ? (uint64_t)about.st_ino : 0;
}

/* A write at an offset; -1 as offset: where the file stands. */
static ssize_t change(int fd, const struct iovec *parts, int count, off_t offset, char *path) {
    REAL(ssize_t, writev, int, const struct iovec *, int);
    REAL(ssize_t, pwritev, int, const struct iovec *, int, off_t);
    if (fails()) return -1;
    off_t at = offset;
    if (at < 0) {
        int flags = fcntl(fd, F_GETFL);
        struct stat about;
        at = (flags & O_APPEND) && fstat(fd, &about) == 0 ? about.st_size : lseek(fd, 0, SEEK_CUR);
    }
    ssize_t done = offset < 0 ? real_writev(fd, parts, count) : real_pwritev(fd, parts, count, offset);
    if (done > 0) note('w', inode_of(fd), (uint64_t)at, path, 0, parts, count, (size_t)done);
    return done;
}

#define LOCKED(type, body) \
    pthread_mutex_lock(&turn); \
    begin(); \
    type result; \
    body; \
    int kept = errno; \
    pthread_mutex_unlock(&turn); \
    errno = kept; \
    return result

/* Files that are not ours, pipes above all, are passed through without the lock. */
#define MINE(fd) char path[4096]; begin_once(); int mine = path_of(fd, path)

static void begin_once(void) {
    pthread_mutex_lock(&turn);
    begin();
    pthread_mutex_unlock(&turn);
}

ssize_t write(int fd, const void *bytes, size_t length) {
    REAL(ssize_t, write, int, const void *, size_t);
    MINE(fd);
    if (!mine) return real_write(fd, bytes, length);
    struct iovec part = {(void *)bytes, length};
    LOCKED(ssize_t, result = change(fd, &part, 1, -1, path));
}

ssize_t writev(int fd, const struct iovec *parts, int count) {
    REAL(ssize_t, writev, int, const struct iovec *, int);
    MINE(fd);
    if (!mine) return real_writev(fd, parts, count);
    LOCKED(ssize_t, result = change(fd, parts, count, -1, path));
}

ssize_t pwrite(int fd, const void *bytes, size_t length, off_t offset) {
    REAL(ssize_t, pwrite, int, const void *, size_t, off_t);
    MINE(fd);
    if (!mine) return real_pwrite(fd, bytes, length, offset);
    struct iovec part = {(void *)bytes, length};
    LOCKED(ssize_t, result = change(fd, &part, 1, offset, path));
}

ssize_t pwrite64(int fd, const void *bytes, size_t length, off_t offset) {
    return pwrite(fd, bytes, length, offset);
}

ssize_t pwritev(int fd, const struct iovec *parts, int count, off_t offset) {
    REAL(ssize_t, pwritev, int, const struct iovec *, int, off_t);
    MINE(fd);
    if (!mine) return real_pwritev(fd, parts, count, offset);
    LOCKED(ssize_t, result = change(fd, parts, count, offset, path));
}

/* Copies within the system would not be seen: their callers read and write instead. */
ssize_t copy_file_range(int from, off_t *at, int to, off_t *there, size_t length, unsigned flags) {
    (void)from, (void)at, (void)to, (void)there, (void)length, (void)flags;
    errno = ENOSYS;
    return -1;
}

ssize_t sendfile(int to, int from, off_t *at, size_t length) {
    (void)to, (void)from, (void)at, (void)length;
    errno = ENOSYS;
    return -1;
}

ssize_t sendfile64(int to, int from, off_t *at, size_t length) {
    return sendfile(to, from, at, length);
}

static int flush(int fd, char *path, int (*real)(int)) {
    if (fails()) return -1;
    int done = real(fd);
    if (done == 0) note('s', inode_of(fd), 0, path, 0, 0, 0, 0);
    return done;
}

int fsync(int fd) {
    REAL(int, fsync, int);
    MINE(fd);
    if (!mine) return real_fsync(fd);
    LOCKED(int, result = flush(fd, path, real_fsync));
}

int fdatasync(int fd) {
    REAL(int, fdatasync, int);
    MINE(fd);
    if (!mine) return real_fdatasync(fd);
    LOCKED(int, result = flush(fd, path, real_fdatasync));
}

static int cut(int fd, off_t length, char *path) {
    REAL(int, ftruncate, int, off_t);
    if (fails()) return -1;
    int done = real_ftruncate(fd, length);
    if (done == 0) note('t', inode_of(fd), (uint64_t)length, path, 0, 0, 0, 0);
    return done;
}

int ftruncate(int fd, off_t length) {
    REAL(int, ftruncate, int, off_t);
    MINE(fd);
    if (!mine) return real_ftruncate(fd, length);
    LOCKED(int, result = cut(fd, length, path));
}

int ftruncate64(int fd, off_t length) { return ftruncate(fd, length); }

/* Opening counts where it makes a file or empties one. */
static int open_ours(int dir, const char *name, int flags, mode_t mode, char *path) {
    REAL(int, openat, int, const char *, int, ...);
    struct stat about;
    int there = stat(path, &about) == 0;
    int makes = (flags & O_CREAT) && !there;
    int empties = there && (flags & O_TRUNC) && S_ISREG(about.st_mode);
    if ((makes || empties) && fails()) return -1;
    int fd = real_openat(dir, name, flags, mode);
    if (fd >= 0 && makes) note('c', inode_of(fd), 0, path, 0, 0, 0, 0);
    if (fd >= 0 && empties) note('t', inode_of(fd), 0, path, 0, 0, 0, 0);
    return fd;
}

static int open_any(int dir, const char *name, int flags, mode_t mode) {
    REAL(int, openat, int, const char *, int, ...);
    char path[4096];
    begin_once();
    if (!absolute(dir, name, path)) return real_openat(dir, name, flags, mode);
    LOCKED(int, result = open_ours(dir, name, flags, mode, path));
}

#define MODE \
    mode_t mode = 0; \
    if (flags & (O_CREAT | O_TMPFILE)) { \
        va_list rest; \
        va_start(rest, flags); \
        mode = (mode_t)va_arg(rest, int); \
        va_end(rest); \
    }

int open(const char *path, int flags, ...) { MODE return open_any(AT_FDCWD, path, flags, mode); }
int open64(const char *path, int flags, ...) { MODE return open_any(AT_FDCWD, path, flags, mode); }
int openat(int dir, const char *path, int flags, ...) { MODE return open_any(dir, path, flags, mode); }
int openat64(int dir, const char *path, int flags, ...) { MODE return open_any(dir, path, flags, mode); }

static int named(char op, int done, const char *from, const char *to, uint64_t inode) {
    if (done == 0) note(op, inode, 0, from, to, 0, 0, 0);
    return done;
}

static uint64_t inode_at(const char *path) {
    struct stat about;
    return lstat(path, &about) == 0 ? (uint64_t)about.st_ino : 0;
}

int renameat(int from_dir, const char *from, int to_dir, const char *to) {
    REAL(int, renameat, int, const char *, int, const char *);
    char a[4096], b[4096];
    begin_once();
    if (!absolute(from_dir, from, a) | !absolute(to_dir, to, b)) return real_renameat(from_dir, from, to_dir, to);
    uint64_t inode = inode_at(a);
    LOCKED(int, result = fails() ? -1 : named('r', real_renameat(from_dir, from, to_dir, to), a, b, inode));
}

int rename(const char *from, const char *to) { return renameat(AT_FDCWD, from, AT_FDCWD, to); }

int linkat(int from_dir, const char *from, int to_dir, const char *to, int flags) {
    REAL(int, linkat, int, const char *, int, const char *, int);
    char a[4096], b[4096];
    begin_once();
    if (!absolute(from_dir, from, a) | !absolute(to_dir, to, b)) return real_linkat(from_dir, from, to_dir, to, flags);
    uint64_t inode = inode_at(a);
    LOCKED(int, result = fails() ? -1 : named('l', real_linkat(from_dir, from, to_dir, to, flags), a, b, inode));
}

int link(const char *from, const char *to) { return linkat(AT_FDCWD, from, AT_FDCWD, to, 0); }

int unlinkat(int dir, const char *name, int flags) {
    REAL(int, unlinkat, int, const char *, int);
    char path[4096];
    begin_once();
    if (!absolute(dir, name, path)) return real_unlinkat(dir, name, flags);
    uint64_t inode = inode_at(path);
    LOCKED(int, result = fails() ? -1 : named('u', real_unlinkat(dir, name, flags), path, 0, inode));
}

int unlink(const char *path) { return unlinkat(AT_FDCWD, path, 0); }
int rmdir(const char *path) { return unlinkat(AT_FDCWD, path, AT_REMOVEDIR); }

int mkdirat(int dir, const char *name, mode_t mode) {
    REAL(int, mkdirat, int, const char *, mode_t);
    char path[4096];
    begin_once();
    if (!absolute(dir, name, path)) return real_mkdirat(dir, name, mode);
    LOCKED(int, result = fails() ? -1 : real_mkdirat(dir, name, mode);
           if (result == 0) note('d', inode_at(path), 0, path, 0, 0, 0, 0));
}

int mkdir(const char *path, mode_t mode) { return mkdirat(AT_FDCWD, path, mode); }
