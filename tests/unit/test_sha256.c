/* SHA-256 against the examples of FIPS 180-4 (NIST's "SHA256.pdf" and CAVP short messages). */
#include <stdlib.h>
#include <string.h>

#include "support/near.h"

#include "base/sha256.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

static const struct { const char *message; const char *digest; } examples[] = {
    { "", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" },
    { "abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" },
    { "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", /* 56 bytes: two blocks */
      "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1" },
    { "abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqr"
      "lmnopqrsmnopqrstnopqrstu",
      "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1" },
};

static void memory_has_the_published_digest(void **state)
{
    char hex[SL_SHA256_HEX];

    (void)state;
    for (size_t i = 0; i < COUNT(examples); i++) {
        sl_sha256(hex, examples[i].message, strlen(examples[i].message));
        assert_string_equal(hex, examples[i].digest);
    }
}

/* A million times 'a', the third example of FIPS 180-2's appendix B: many buffers of a file. */
static void a_file_has_the_published_digest(void **state)
{
    char hex[SL_SHA256_HEX];
    FILE *file = tmpfile();

    (void)state;
    assert_non_null(file);
    for (int i = 0; i < 1000000; i++)
        (void)fputc('a', file);
    rewind(file);
    assert_int_equal(sl_sha256_file(hex, file, "file", NULL), SL_OK);
    assert_string_equal(hex, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    /* from the present place: at the end that is the empty message */
    assert_int_equal(sl_sha256_file(hex, file, "file", NULL), SL_OK);
    assert_string_equal(hex, examples[0].digest);
    (void)fclose(file);
}

static void a_file_that_cannot_be_read_is_an_error(void **state)
{
    char hex[SL_SHA256_HEX] = "as it was";
    sl_error err = { SL_OK, NULL, "" };
    FILE *folder = fopen("/", "rb");

    (void)state;
    /* POSIX lets a folder be opened for reading; reading it is EISDIR */
    assert_non_null(folder);
    assert_int_equal(sl_sha256_file(hex, folder, "folder", &err), SL_ERR_IO);
    assert_string_equal(hex, "as it was");
    assert_true(err.detail[0] != '\0');
    (void)fclose(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_has_the_published_digest),
        cmocka_unit_test(a_file_has_the_published_digest),
        cmocka_unit_test(a_file_that_cannot_be_read_is_an_error),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
