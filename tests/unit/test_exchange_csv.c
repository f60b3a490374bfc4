/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Registers read from and written to CSV. */
#include "exchanged.h"

#include "neap/calc.h"

static void columns_may_stand_in_any_order_and_lack_what_is_not_the_key(void **state)
{
    (void)state;
    expect_heard("system.csv", "note,name\nby the door,north\n", "system: name=north, note=by the door\n", "");
    expect_heard("data/Systems.CSV", "name\nnorth\nsouth", "system: name=north\nsystem: name=south\n", "");
    expect_heard("system.csv", "name,note\nnorth,\n", "system: name=north, note=\n", "");
}

static void a_byte_order_mark_crlf_cr_and_blank_lines_are_no_fault(void **state)
{
    (void)state;
    const char *rows = "system: name=north, note=a\nsystem: name=south, note=b\n";
    expect_heard("system.csv",
                 "\xEF\xBB\xBF"
                 "name,note\r\nnorth,a\r\nsouth,b\r\n",
                 rows, "");
    expect_heard("system.csv", "name,note\rnorth,a\rsouth,b\r", rows, "");
    expect_heard("system.csv", "\n  \nname,note\n\n\nnorth,a\n \t \nsouth,b\n\n", rows, "");
    expect_heard("system.csv", "name,note\nnorth, a \n south,b", rows, "");
}

static void quotes_hold_commas_quotes_and_blanks(void **state)
{
    (void)state;
    expect_heard("system.csv", "\"name\",note\n\"north\",\"a, \"\"b\"\" \"\n", "system: name=north, note=a, \"b\" \n",
                 "");
}

static void a_heading_line_alone_is_a_file_without_rows(void **state)
{
    (void)state;
    expect_heard("system.csv", "name,note\n", "", "");
    expect_heard("system.csv", "name,note", "", "");
}

/* Reads text, expects these rows and no fault, and that this is said of the file's form. */
static void expect_form(const char *name, const char *bytes, size_t len, const char *rows, const char *note)
{
    struct heard h = {0};
    hear_bytes(&h, name, bytes, len);
    assert_true(h.ok);
    assert_string_equal(text_str(&h.faults.lines), "");
    assert_string_equal(text_str(&h.rows), rows);
    assert_string_equal(text_str(&h.faults.notes), note);
    heard_free(&h);
}

static void spreadsheets_are_read_as_they_are_and_it_is_said(void **state)
{
    (void)state;
    static const struct {
        const char *name, *text, *rows, *note;
    } files[] = {
        {"tank.csv", "name;water_cm;fish\r\nA;40,5;TRUE\r\nB;1,125;no\r\n",
         "tank: name=A, water_cm=40.5, fish=yes\ntank: name=B, water_cm=1.125, fish=no\n",
         "tank.csv: read with semicolons, with decimal commas\n"},
        {"tank.csv", "name\twater_cm\nA\t40.5\n", "tank: name=A, water_cm=40.5\n", "tank.csv: read with tabs\n"},
        {"tank.csv", "sep=;\nname;water_cm\nA;40\n", "tank: name=A, water_cm=40\n", "tank.csv: read with semicolons\n"},
        {"tank.csv", "name,water_cm,note\nA,\"40,5\",\"1,5\"\n", "tank: name=A, water_cm=40.5, note=1,5\n",
         "tank.csv: read with decimal commas\n"},
        {"tank.csv", "Name,Water cm,Net volume (US gal),Flow-off limit min,Displacement %\nA,16 in,80,12.0,8\n",
         "tank: name=A, water_cm=40.64, net_volume_l=302.83294272, displacement_frac=0.08, flow_off_limit_min=12\n",
         ""},
        {"tank.csv", "name,displacement_frac\nA,8 %\nB,8%\nC,0.08\n",
         "tank: name=A, displacement_frac=0.08\ntank: name=B, displacement_frac=0.08\n"
         "tank: name=C, displacement_frac=0.08\n",
         ""},
        {"tank.csv", "name;displacement_frac\nA;8,5 %\n", "tank: name=A, displacement_frac=0.085\n",
         "tank.csv: read with semicolons, with decimal commas\n"},
        {"colony.csv", "code,count,arrived\nA,12.0,3/4/2026\nB,1,11/27/2026\n,,\n",
         "colony: code=A, count=12, arrived=2026-03-04\ncolony: code=B, count=1, arrived=2026-11-27\n",
         "colony.csv: read with the month before the day\n"},
        {"colony.csv", "code,arrived\nA,3-4-2026\nB,27-11-2026\nC,27.11.2026\nD,2026-11-27 00:00\n",
         "colony: code=A, arrived=2026-04-03\ncolony: code=B, arrived=2026-11-27\ncolony: code=C, arrived=2026-11-27\n"
         "colony: code=D, arrived=2026-11-27\n",
         "colony.csv: read with the day before the month\n"},
        {"test.csv", "system,taken,analyte,value\nn,11/27/2026 8:05 AM,no3,5\n",
         "test: system=n, taken=2026-11-27T08:05, analyte=no3, value=5\n",
         "test.csv: read with the month before the day\n"},
        {"test.csv", "System;Taken;Analyte;Value;Unit\nn;2026-11-27 8:05;PO4;18,5;ppb P\n",
         "test: system=n, taken=2026-11-27T08:05, analyte=po4, value=0.05672\n",
         "test.csv: read with semicolons, with decimal commas\n"},
        {"setting.csv", "name;value\nloss_frac;0,06\nstart_min;8:00:00\nfacility;1,5 and more\n",
         "setting: name=loss_frac, value=0.06\nsetting: name=start_min, value=08:00\n"
         "setting: name=facility, value=1,5 and more\n",
         "setting.csv: read with semicolons, with decimal commas\n"},
        {"system.csv", ",,\nname,note,,\nnorth,a,,,,\n,,,\n,,,,\nsouth,b,,\n",
         "system: name=north, note=a\nsystem: name=south, note=b\n", ""},
        {"system.csv", "name,note\nGr\xFCn \x80,\xE9\n", "system: name=Gr\xC3\xBCn \xE2\x82\xAC, note=\xC3\xA9\n",
         "system.csv: read as Windows-1252\n"},
    };
    for (size_t i = 0; i < COUNT_OF(files); i++)
        expect_form(files[i].name, files[i].text, strlen(files[i].text), files[i].rows, files[i].note);
}

/* U+FC and U+1F41F as the tables of The Unicode Standard encode them. */
static void utf_16_is_read_with_and_without_its_mark(void **state)
{
    (void)state;
    static const char little[] = "\xFF\xFEn\0a\0m\0e\0\n\0\xFC\0\x3D\xD8\x1F\xDC\n",
                      big[] = "\0n\0a\0m\0e\0\n\0\xFC\0x\0\n", bare[] = "n\0a\0m\0e\0\r\0\n\0\xFC\0\r\0\n";
    expect_form("system.csv", little, sizeof little, "system: name=\xC3\xBC\xF0\x9F\x90\x9F\n",
                "system.csv: read as UTF-16\n");
    expect_form("system.csv", big, sizeof big - 1, "system: name=\xC3\xBCx\n", "system.csv: read as UTF-16\n");
    expect_form("system.csv", bare, sizeof bare, "system: name=\xC3\xBC\n", "system.csv: read as UTF-16\n");
    expect_heard("system.csv", "name\nA\n", "system: name=A\n", "");
    struct heard h = {0};
    static const char half[] = "\xFF\xFEn\0a\0m\0e\0\n\0\x3D\xD8\n";
    hear_bytes(&h, "system.csv", half, sizeof half);
    assert_int_equal(h.faults.n, 1);
    assert_string_equal(text_str(&h.rows), "");
    heard_free(&h);
}

/* What is said of the form is not recognised, and holds whatever the file looks like. */
static void a_form_that_is_given_is_taken(void **state)
{
    (void)state;
    static const struct heading_alias aliases[] = {{"Label", "name"}, {"Supplier", ""}, {"Kind of tank", "shape"}};
    static const struct {
        struct csv_form form;
        const char *text, *rows;
    } files[] = {
        {{.separator = ';'}, "name;note\nA;b,c,d\n", "tank: name=A, note=b,c,d\n"},
        {{.decimal = ','}, "name,net_volume_l\nA,\"1,200\"\n", "tank: name=A, net_volume_l=1.2\n"},
        {{.decimal = '.'}, "name;net_volume_l\nA;1.200\n", "tank: name=A, net_volume_l=1.2\n"},
        {{.dates = DAY_ORDER_DMY}, "name,hold_until\nA,3/4/2026\n", "tank: name=A, hold_until=2026-04-03\n"},
        {{.encoding = ENCODING_WINDOWS_1252}, "name\nA\xC3\xBC\n", "tank: name=A\xC3\x83\xC2\xBC\n"},
        {{.aliases = aliases, .n_aliases = 3}, "Label,Supplier,Kind of tank\nA,x,Box\n", "tank: name=A, shape=box\n"},
    };
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        struct heard h = {0};
        h.ok = exchange_read(
            &(struct source){
                .name = "tank.csv", .bytes = files[i].text, .len = strlen(files[i].text), .form = &files[i].form},
            NULL, &(struct exchange_sink){.put = heard_put, .context = &h}, &h.faults, &h.n_rows, &h.e);
        assert_true(h.ok);
        assert_string_equal(text_str(&h.faults.lines), "");
        assert_string_equal(text_str(&h.rows), files[i].rows);
        heard_free(&h);
    }
}

/* Rows of one text and the one fault that must come of it. */
static void every_fault_has_its_place_and_says_what_is_expected(void **state)
{
    (void)state;
    static const struct {
        const char *name, *text, *fault;
    } rows[] = {
        {"system.csv", "", "system.csv:1:1: is empty; expected a line of headings, such as name,sump_volume_l\n"},
        {"system.csv", " \n\r\n",
         "system.csv:1:1: is empty; expected a line of headings, such as name,sump_volume_l\n"},
        {"tank.csv", "name,water_cm\nA,40\nB,forty\n",
         "tank.csv:3:3: water_cm is \"forty\"; expected a number, such as 40 or 40.5\n"},
        {"tank.csv", "name,water_cm\nGrün,forty\n",
         "tank.csv:2:6: water_cm is \"forty\"; expected a number, such as 40 or 40.5\n"},
        {"tank.csv", "name,note,water_cm\nA,\"Grün, \"\"B\"\"\",forty\n",
         "tank.csv:2:17: water_cm is \"forty\"; expected a number, such as 40 or 40.5\n"},
        {"tank.csv", "name,note,water_cm\nA,\"two\nlines\",40\n",
         "tank.csv:2:3: note has a line break at byte 4; expected one line of text\n"},
        {"tank.csv", "\n\r\nname,water_cm\r\n\r\nB,\"40,,5\"\r\n",
         "tank.csv:5:3: water_cm is \"40,,5\"; expected a decimal point, such as 40.5 (not a comma)\n"},
        {"tank.csv", "name,water_cm\nB,-3\n", "tank.csv:2:3: water_cm is -3; expected 1 to 10000\n"},
        {"tank.csv", "name,water_cm\nB,1,5\n",
         "tank.csv:2:1: has 3 cells; expected 2, as there are headings (a text with a comma needs quotes; a number "
         "takes "
         "a decimal point)\n"},
        {"tank.csv", "name,water_cm\nB\n", "tank.csv:2:1: has 1 cell; expected 2, as there are headings\n"},
        {"tank.csv", "name,lenght_cm\n",
         "tank.csv:1:6: \"lenght_cm\" is no heading of tank; did you mean \"length_cm\"?\n"},
        {"tank.csv", "name,length\n", "tank.csv:1:6: \"length\" is no heading of tank; did you mean \"length_cm\"?\n"},
        {"tank.csv", "name,net_volume_usgla\n",
         "tank.csv:1:6: \"net_volume_usgla\" is no heading of tank; did you mean \"net_volume_usgal\"?\n"},
        {"band.csv", "system,analyte,zzzzzzzz\n",
         "band.csv:1:16: \"zzzzzzzz\" is no heading of band; expected some of system, analyte, low, high\n"},
        {"tank.csv", "name,water_cm,water_cm\n",
         "tank.csv:1:15: water_cm is there twice, in heading 2 and in 3; expected it once\n"},
        {"tank.csv", "name,water_cm,water_in\n",
         "tank.csv:1:15: water_cm is there twice, in heading 2 and in 3; expected it once\n"},
        {"tank.csv", "name,,water_cm\nA,x,40\n",
         "tank.csv:2:3: \"x\" has no heading above it; expected one in column 2\n"},
        {"tank.csv", "water_cm\n40\n",
         "tank.csv:1:1: has no heading name; expected it, for it tells the rows of tank apart\n"},
        {"tank.csv", "name;water_cm\nA;40,5\nB;40.5\n",
         "tank.csv:2:3: water_cm is \"40,5\"; expected a decimal point, such as 40.5 (not a comma)\n"},
        {"tank.csv", "name;net_volume_l\nA;1.200\n",
         "tank.csv:2:3: net_volume_l is \"1.200\"; expected it to be clear whether this parts thousands: --decimal "
         "comma "
         "or --decimal point says so\n"},
        {"tank.csv", "name;net_volume_l;water_cm\nA;1.200;40,5\n",
         "tank.csv:2:3: net_volume_l is \"1.200\"; expected a decimal comma, as elsewhere in the file, and nothing "
         "between "
         "thousands (else --decimal point)\n"},
        {"tank.csv", "name,net_volume_l\nA,\"1,200\"\n",
         "tank.csv:2:3: net_volume_l is \"1,200\"; expected nothing between thousands, such as 1200 (a decimal comma: "
         "--decimal comma)\n"},
        {"tank.csv", "name,net_volume_l\nA,\"1,200.5\"\n",
         "tank.csv:2:3: net_volume_l is \"1,200.5\"; expected nothing between thousands: 1200.5 or, with --decimal "
         "comma, "
         "1200,5\n"},
        {"colony.csv", "code,arrived\nA,3/4/2026\n",
         "colony.csv:2:3: arrived is \"3/4/2026\", which may be 2026-03-04 or 2026-04-03; expected YYYY-MM-DD, or "
         "--dates "
         "dmy or --dates mdy to say which\n"},
        {"tank.csv", "name;water_cm\nA;B;40\n",
         "tank.csv:2:1: has 3 cells; expected 2, as there are headings (a text with the separator in it needs "
         "quotes)\n"},
        {"tank.csv", "name,water_cm\nA,40 furlongs\n",
         "tank.csv:2:3: water_cm: \"40 furlongs\": unit \"furlongs\" is not known; expected one such as L, mL, usgal, "
         "g, "
         "oz, cm, mg/L, ppb P or C\n"},
        {"tank.csv", "name,water_cm\n\"\",40\n", "tank.csv:2:1: name is empty; expected what is written on the tank\n"},
        {"tank.csv", "name,water_cm\n 12\" tank,40\n",
         "tank.csv:2:4: has a stray quote; expected the whole cell in quotes, and \"\" for a quote inside\n"},
        {"tank.csv", "name,water_cm\n\"12\" tank\",40\n",
         "tank.csv:2:6: has a stray quote; expected the whole cell in quotes, and \"\" for a quote inside\n"},
        {"tank.csv", "name,water_cm\n\"A,40\n",
         "tank.csv:2:1: has a quoted cell without end; expected its closing quote\n"},
        {"tank.csv", "name,note\nGr\xC3\xBCn,Gr\xFCn\n",
         "tank.csv:2:8: byte 0xFC is not UTF-8, as other characters of the file are; expected the file saved as UTF-8, "
         "or "
         "--encoding windows-1252\n"},
        {"tank.csv", "name\nA\x81\n",
         "tank.csv:2:2: byte 0x81 is no character of Windows-1252; expected the file saved as UTF-8\n"},
        {"tank.csv", "\xFF\xFEn",
         "tank.csv:1:1: looks like UTF-16 and ends in half a character; expected the whole file, or it saved as "
         "UTF-8\n"},
        {"tonk.csv", "name\n",
         "tonk.csv: the name does not say which register this is; expected one of setting, system, band, switch, "
         "daily_round, broadcast_day, tank, kind, "
         "colony, food, lot, method, test, water, round, asked, pot, pot_food, line, waiting, caution, switching, "
         "given, "
         "extra, mixed, "
         "weighed, "
         "crew, remark, switched, treatment, waste, tally, as in tank.csv (did you "
         "mean \"tank\"?)\n"},
        {"tank.csv", "name,shape\nA,bow-front\n",
         "tank.csv:2:3: shape is \"bow-front\"; expected box, cylinder, half cylinder, quarter cylinder, bow front, "
         "prism, cut corner or stated (did you mean \"bow front\"?)\n"},
        {"tank.csv", "name\n=SUM(A1)\n",
         "tank.csv:2:1: name is \"=SUM(A1)\"; expected a name that does not begin with = + - or @\n"},
        {"tank.csv", "name,water_cm\nA,\x1b[2J\n",
         "tank.csv:2:3: water_cm is \"?[2J\"; expected a number, such as 40 or 40.5\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct heard h = {0};
        hear(&h, rows[i].name, rows[i].text);
        assert_true(h.ok);
        assert_string_equal(text_str(&h.faults.lines), rows[i].fault);
        assert_int_equal(h.faults.n, 1);
        heard_free(&h);
    }
}

/* Nothing that a spreadsheet would run begins a cell, and every text comes back as it was. */
static void text_that_looks_like_a_formula_is_marked_and_comes_back(void **state)
{
    (void)state;
    static const char *const texts[][2] = {
        {"=1+1", "'=1+1"},
        {"+49 40", "'+49 40"},
        {"- 2 mL", "'- 2 mL"},
        {"@noon", "'@noon"},
        {"'=1", "''=1"},
        {"''-", "'''-"},
        {" =1", "' =1"},
        {"' @x", "'' @x"},
        {"'quoted'", "'quoted'"},
        {"2 - 1", "2 - 1"},
        {"'", "'"},
        {"=\"a\",b", "\"'=\"\"a\"\",b\""},
    };
    const struct reg *r = reg_get(REG_SYSTEM);
    size_t note = reg_field(r, "note");
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct cell cells[FIELDS_MAX] = {{.kind = CELL_TEXT, .text = "n"}};
        struct text out = {0}, file = {0}, rows = {0};
        cells[note] = (struct cell){.kind = CELL_TEXT, .text = texts[i][0]};
        csv_write_row(r, cells, NULL, &out);
        text_addf(&file, "n,,,,,,%s,,,\n", texts[i][1]);
        assert_string_equal(text_str(&out), text_str(&file));
        text_free(&file);
        text_addf(&file, "name,note\nn,%s\n", texts[i][1]);
        text_addf(&rows, "system: name=n, note=%s\n", texts[i][0]);
        expect_heard("system.csv", text_str(&file), text_str(&rows), "");
        text_free(&out);
        text_free(&file);
        text_free(&rows);
    }
    expect_heard("system.csv", "name,note\nn,- by hand\n", "system: name=n, note=- by hand\n", "");
    expect_heard("system.csv", "name,note\n'=n,x\n", "system: name='=n, note=x\n", ""); /* a name has no such mark */
}

/*
 * By hand, IUPAC abridged weights: 100 µg/L P are 0.1 × 94.970 / 30.974 = 0.30661 mg/L PO4; 3 meq/L are 3 × 2.804 dKH.
 */
static void a_test_is_read_in_the_unit_beside_it(void **state)
{
    (void)state;
    expect_heard("test.csv",
                 "system,taken,unit,analyte,value\n"
                 "n,2026-11-27 08:00,ppb P,po4,100\n"
                 "n,2026-11-27 08:00,mg/L NO3-N,no3,2\n"
                 "n,2026-11-27 08:00,meq/L,alk,3\n"
                 "n,2026-11-27 08:00,F,temp,77\n"
                 "n,2026-11-27 08:00,,po4,0.1\n",
                 "test: system=n, taken=2026-11-27T08:00, analyte=po4, value=0.30661\n"
                 "test: system=n, taken=2026-11-27T08:00, analyte=no3, value=8.853\n"
                 "test: system=n, taken=2026-11-27T08:00, analyte=alk, value=8.412\n"
                 "test: system=n, taken=2026-11-27T08:00, analyte=temp, value=25\n"
                 "test: system=n, taken=2026-11-27T08:00, analyte=po4, value=0.1\n",
                 "");
}

static void a_unit_that_cannot_be_is_refused_with_its_place(void **state)
{
    (void)state;
    expect_heard(
        "test.csv",
        "system,taken,analyte,value,unit\n"
        "n,2026-11-27 08:00,po4,100,ppb\n"
        "n,2026-11-27 08:00,no3,8,dKH\n"
        "n,2026-11-27 08:00,no3,8,parsecs\n"
        "n,2026-11-27 08:00,po4,x,ppb P\n"
        "n,2026-11-27 08:00,pox,1,ppb P\n",
        "",
        "test.csv:2:28: po4=\"100 ppb\" may be of phosphate or of phosphorus; expected 100 ppb PO4 or 100 ppb P\n"
        "test.csv:3:26: no3: an alkalinity cannot be shown in mg/L NO3; expected a concentration\n"
        "test.csv:4:26: no3=\"8 parsecs\": unit \"parsecs\" is not known; expected one such as L, mL, usgal, g, oz, "
        "cm, mg/L, ppb P or C\n"
        "test.csv:5:24: value is \"x\"; expected a number, such as 40 or 40.5\n"
        "test.csv:6:20: analyte is \"pox\"; expected no3, po4, tan, no2, ph, alk, ca, mg, salinity or temp (did you "
        "mean "
        "\"po4\"?)\n");
    expect_heard("test.csv", "system,taken,analyte,value,unit,unit\n", "",
                 "test.csv:1:33: unit is there twice, in heading 5 and in 6; expected it once\n");
    expect_heard("band.csv", "system,analyte,unit\n", "",
                 "band.csv:1:16: \"unit\" is no heading of band; expected some of system, analyte, low, high\n");
}

static void a_nul_byte_is_refused_with_its_place(void **state)
{
    (void)state;
    static const char nul[] = "name,note\nnorth,a\0b\n", json[] = "{\0}\0";
    struct heard h = {0};
    hear_bytes(&h, "system.csv", nul, sizeof nul - 1);
    assert_string_equal(text_str(&h.faults.lines), "system.csv:2:8: has a NUL byte; expected text\n");
    assert_int_equal(h.n_put, 0);
    heard_free(&h);
    hear_bytes(&h, "system.json", json, sizeof json - 1);
    assert_string_equal(text_str(&h.faults.lines), "system.json:1:2: has a NUL byte; expected text\n");
    heard_free(&h);
}

static void all_faults_come_in_one_pass_and_good_rows_still_go_on(void **state)
{
    (void)state;
    struct heard h = {0};
    hear(&h, "tank.csv",
         "name,water_cm,fish,colour\nA,x,maybe,red\nB,40,yes,red\nC,40\nD,\"4\"5,yes,red\nE,41,no,red\n");
    assert_true(h.ok);
    assert_string_equal(text_str(&h.rows), "tank: name=B, water_cm=40, fish=yes\ntank: name=E, water_cm=41, fish=no\n");
    assert_int_equal(h.n_rows, 5);
    assert_int_equal(h.faults.n, 5);
    static const char *const places[] = {
        "tank.csv:1:20: ", "tank.csv:2:3: ", "tank.csv:2:5: ", "tank.csv:4:1: ", "tank.csv:5:6: "};
    const char *at = text_str(&h.faults.lines);
    for (size_t i = 0; i < COUNT_OF(places); i++) {
        assert_int_equal(strncmp(at, places[i], strlen(places[i])), 0);
        at = strchr(at, '\n') + 1;
    }
    heard_free(&h);
}

static void a_heading_with_another_unit_is_converted_exactly(void **state)
{
    (void)state;
    /* 1 in = 2.54 cm, 1 US gal = 231 in3 = 3.785411784 L, 1 imp gal = 4.54609 L, 1 ft = 30.48 cm: NIST HB 44 app. C;
       1 US fl oz = 29.5735295625 mL (gal/128), 1 oz av = 28.349523125 g: the same. */
    expect_heard("tank.csv", "name,length_in,width_ft,water_mm,diameter_m,net_volume_usgal\nA,48,2,405,1.1,80\n",
                 "tank: name=A, length_cm=121.92, width_cm=60.96, water_cm=40.5, diameter_cm=110, "
                 "net_volume_l=302.83294272\n",
                 "");
    expect_heard("tank.csv", "name,net_volume_impgal,position_ft\nA,100,10\n",
                 "tank: name=A, net_volume_l=454.609, position_m=3.048\n", "");
    expect_heard("system.csv", "name,sump_volume_ft3\nA,1\n", "system: name=A, sump_volume_l=28.316846592\n", "");
    expect_heard("kind.csv", "name,portion_usfloz,max_particle_mm\nk,1,0.3\n",
                 "kind: name=k, max_particle_um=300, portion_ml=29.5735295625\n", "");
    expect_heard("food.csv", "name,scoop_oz\nf,1\ng,\n", "food: name=f, scoop_g=28.349523125\nfood: name=g, scoop_g=\n",
                 "");
    expect_heard("food.csv", "name,scoop_mg\nf,1300\n", "food: name=f, scoop_g=1.3\n", "");
}

static void limits_hold_for_the_converted_value(void **state)
{
    (void)state;
    expect_heard("tank.csv", "name,length_in\nA,0.1\nB,4000\n", "",
                 "tank.csv:2:3: length_in is 0.1: length_cm is 0.254; expected 1 to 10000\n"
                 "tank.csv:3:3: length_in is 4000: length_cm is 10160; expected 1 to 10000\n");
    expect_heard("tank.csv", "name,length_in\nA,four\n", "",
                 "tank.csv:2:3: length_in is \"four\"; expected a number, such as 40 or 40.5\n");
}

static void a_rate_and_a_concentration_have_no_other_unit(void **state)
{
    (void)state;
    static const char *const files[][2] = {
        {"food.csv", "name,ceiling_units_per_100usgal\nf,1\n"},
        {"water.csv", "system,exchanged,no3_mg_usgal\na,2026-01-01T08:00,1\n"},
        {"food.csv", "name,density_g_per_l\nf,1\n"},
    };
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        struct heard h = {0};
        hear(&h, files[i][0], files[i][1]);
        assert_int_equal(h.faults.n, 1);
        heard_free(&h);
    }
}

/* Wherever a piece of it ends, be it within a character. */
static void plain_utf_8_is_never_held_whole(void **state)
{
    static const char text[] = "name,note\nnorth,a\xC3\xA9\xE2\x82\xAC\xF0\x9F\x90\x9F\xF0\x9F\x90\x9F\xC3\xA9\n"
                               "south,\xF0\x9F\x90\x9F\xE2\x82\xAC\xE2\x82\xAC\xC3\xA9\n";
    (void)state;
    for (size_t room = 5; room < 40; room++) {
        struct heard h = {0};
        struct fetched f = {.bytes = text, .len = sizeof text - 1};
        const struct source source = {
            .name = "system.csv", .len = f.len, .fetch = heard_fetch, .context = &f, .room = room};
        assert_true(exchange_read(&source, NULL, &(struct exchange_sink){.put = heard_put, .context = &h}, &h.faults,
                                  &h.n_rows, &h.e));
        assert_true(h.n_put == 2 && h.faults.n == 0);
        assert_true(f.most <= room);
        heard_free(&h);
    }
}

/* Whichever it is: what looks whether it is UTF-8, what recognises the form, or what reads the rows. */
static void a_file_that_cannot_be_fetched_ends_with_the_reason(void **state)
{
    static const char *const files[][2] = {
        {"system.csv", "sep=;\nname;note;sump_volume_l\nnorth;\"caf\xC3\xA9, by the door\";80,5\nsouth;;7,25\n"},
        {"system.csv", "name,note\nnorth,caf\xE9\n"}, /* to be held whole, being Windows-1252 */
        {"system.csv", "\xEF\xBB\xBFname,note\nnorth,\"a\"x\nsouth,1/2\n"},
        {"all.json", "{\"schema\": 1, \"system\": [{\"name\": \"north\"}]}"},
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        bool ok = false;
        size_t fail_at = 0;
        while (!ok) {
            struct heard h = {0};
            struct fetched f = {.bytes = files[i][1], .len = strlen(files[i][1]), .fail_at = ++fail_at};
            const struct source source = {
                .name = files[i][0], .len = f.len, .fetch = heard_fetch, .context = &f, .room = 16};
            ok = exchange_read(&source, NULL, &(struct exchange_sink){.put = heard_put, .context = &h}, &h.faults,
                               &h.n_rows, &h.e);
            assert_true(ok ? f.n < fail_at : h.e.code == ERR_IO && strcmp(h.e.text, "fetching failed") == 0);
            heard_free(&h);
        }
        assert_true(fail_at > 2);
    }
}

static void every_unit_ending_serves_a_field(void **state)
{
    (void)state;
    size_t n;
    const struct exchange_unit *units = exchange_units(&n);
    for (size_t u = 0; u < n; u++) {
        bool serves = false;
        for (size_t id = 0; id < N_REGS && !serves; id++) {
            const struct reg *r = reg_get((enum reg_id)id);
            for (size_t i = 0; i < r->n_fields && !serves; i++) {
                size_t len = strlen(r->fields[i].name), end = strlen(units[u].base);
                bool counts = strcmp(units[u].base, "_cents") == 0; /* whole, of money that is not */
                serves = r->fields[i].type == (counts ? FIELD_COUNT : FIELD_NUMBER) && len > end &&
                         strcmp(r->fields[i].name + len - end, units[u].base) == 0;
            }
        }
        assert_true(serves);
        assert_true(units[u].to_base(0) == 0 && units[u].to_base(1) > 0);
    }
}

static void a_long_cell_is_cut_off_before_it_grows(void **state)
{
    (void)state;
    struct text t = {0};
    struct heard h = {0};
    text_add(&t, "name,note\na,");
    text_add_char(&t, 'x', 100000);
    text_add(&t, "\nb,fine\n");
    hear(&h, "system.csv", text_str(&t));
    assert_string_equal(text_str(&h.faults.lines),
                        "system.csv:2:3: has a cell of more than 4096 bytes; expected at most that many\n");
    assert_string_equal(text_str(&h.rows), "system: name=b, note=fine\n");
    assert_int_equal(h.n_rows, 2);
    heard_free(&h);
    text_free(&t);

    text_add(&t, "name,note\na,\"");
    text_add_char(&t, 'x', 100000);
    text_add(&t, "\",b\n");
    hear(&h, "system.csv", text_str(&t));
    assert_int_equal(h.faults.n, 1);
    assert_non_null(strstr(text_str(&h.faults.lines), "system.csv:2:3: has a quoted cell of more than 4096 bytes"));
    heard_free(&h);
    text_free(&t);
}

static void a_thousand_columns_are_refused_without_a_crash(void **state)
{
    (void)state;
    struct text t = {0};
    struct heard h = {0};
    text_add(&t, "name");
    for (int i = 0; i < 1000; i++)
        text_add(&t, ",x");
    text_add(&t, "\na");
    text_add_char(&t, ',', 1000);
    text_add(&t, "\n");
    hear(&h, "system.csv", text_str(&t));
    assert_true(h.ok);
    assert_int_equal(h.faults.n, FIELDS_MAX - 1 + 1);
    heard_free(&h);
    text_free(&t);
    text_add(&t, "name");
    text_add_char(&t, ',', 1000);
    text_add(&t, "\na");
    text_add_char(&t, ',', 1000);
    text_add(&t, "\n");
    expect_heard("system.csv", text_str(&t), "system: name=a\n", "");
    text_free(&t);
}

static void broken_headings_are_no_rows(void **state)
{
    (void)state;
    static const char *const texts[] = {"\"name\n", "na\"me\nA\n", "\"name\"x\nA\n", ""};
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct heard h = {0};
        hear(&h, "system.csv", texts[i]);
        assert_int_equal(h.n_rows, 0);
        assert_int_equal(h.faults.n, 1);
        heard_free(&h);
    }
}

static void faults_are_all_counted_but_not_all_shown(void **state)
{
    (void)state;
    struct text t = {0};
    struct heard h = {0};
    size_t shown = 0;
    text_add(&t, "name,water_cm\n");
    for (int i = 0; i < 300; i++)
        text_addf(&t, "T%d,x\n", i);
    hear(&h, "tank.csv", text_str(&t));
    assert_int_equal(h.faults.n, 300);
    for (const char *s = text_str(&h.faults.lines); *s; s++)
        shown += *s == '\n';
    assert_int_equal(shown, FAULTS_SHOWN_MAX);
    heard_free(&h);
    text_free(&t);
}

static void what_the_sink_refuses_gets_the_place_of_the_blamed_cell(void **state)
{
    (void)state;
    static const struct {
        const char *says, *fault;
        const char *field; /* NULL: the row */
        enum err_code code;
        bool of_value;
    } rows[] = {
        {"is \"nroth\"; expected a system", "tank.csv:2:3: system is \"nroth\"; expected a system\n", "system",
         ERR_NOT_FOUND, true},
        {"no such measure", "tank.csv:2:3: no such measure\n", "system", ERR_INPUT, false},
        {"the row is odd", "tank.csv:2:1: the row is odd\n", NULL, ERR_INPUT, false},
        {"is empty; expected a shape", "tank.csv:2:1: shape is empty; expected a shape\n", "shape", ERR_INPUT, true},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct heard h = {.refuse = rows[i].says, .refuse_code = rows[i].code, .refuse_of_value = rows[i].of_value};
        h.refuse_field = rows[i].field ? reg_field(reg_get(REG_TANK), rows[i].field) : SIZE_MAX;
        hear(&h, "tank.csv", "name,system\nA,nroth\n");
        assert_true(h.ok);
        assert_string_equal(text_str(&h.faults.lines), rows[i].fault);
        heard_free(&h);
    }
}

static void an_error_of_the_store_ends_the_reading(void **state)
{
    (void)state;
    struct heard h = {.refuse = "disk is full", .refuse_code = ERR_STORE};
    hear(&h, "system.csv", "name\na\nb\n");
    assert_false(h.ok);
    assert_int_equal(h.e.code, ERR_STORE);
    assert_string_equal(h.e.text, "disk is full");
    assert_int_equal(h.n_put, 1);
    assert_int_equal(h.faults.n, 0);
    heard_free(&h);
}

static void a_file_name_stands_for_a_register_in_the_singular_or_plural(void **state)
{
    (void)state;
    assert_ptr_equal(exchange_reg_of("data/tanks.csv"), reg_get(REG_TANK));
    assert_ptr_equal(exchange_reg_of("tank.csv"), reg_get(REG_TANK));
    assert_ptr_equal(exchange_reg_of("COLONIES.CSV"), reg_get(REG_COLONY));
    assert_ptr_equal(exchange_reg_of("pot_food.csv"), reg_get(REG_POT_FOOD));
    assert_null(exchange_reg_of("tankss.csv"));
    assert_null(exchange_reg_of("tank/x.csv"));
    assert_null(exchange_reg_of(""));
    assert_null(exchange_reg_of("a-name-that-is-far-too-long-for-any-register-to-be.csv"));
}

static void the_register_may_be_told_where_the_name_does_not(void **state)
{
    (void)state;
    struct heard h = {0};
    assert_true(exchange_read(&(struct source){.name = "-", .bytes = "name\nA\n", .len = 7}, reg_get(REG_TANK),
                              &(struct exchange_sink){.put = heard_put, .context = &h}, &h.faults, &h.n_rows, &h.e));
    assert_string_equal(text_str(&h.rows), "tank: name=A\n");
    heard_free(&h);
}

static void what_is_written_reads_back_and_writes_the_same_bytes(void **state)
{
    (void)state;
    const struct reg *r = reg_get(REG_SYSTEM);
    struct cell cells[FIELDS_MAX] = {
        {.kind = CELL_TEXT, .text = "north \"A\", left"},
        {.kind = CELL_NUMBER, .number = 302.83294272},
        {.kind = CELL_NUMBER, .number = 1.0 / 3 + 1},
        {.kind = CELL_WHOLE, .whole = 1},
        {.kind = CELL_EMPTY},
        {.kind = CELL_EMPTY},
        {.kind = CELL_TEXT, .text = " blanks at both ends "},
        {.kind = CELL_EMPTY},
    };
    struct text out = {0};
    struct heard h = {0};
    csv_write_head(r, NULL, &out);
    csv_write_row(r, cells, NULL, &out);
    assert_string_equal(text_str(&out),
                        "name,sump_volume_l,test_every_d,quarantine,broadcast_once,"
                        "broadcast_position_m,note,retired,lights_on_min,lights_off_min\n"
                        "\"north \"\"A\"\", left\",302.83294272,1.3333333333333333,yes,,,\" blanks at both "
                        "ends \",,,\n");
    hear(&h, "system.csv", text_str(&out));
    assert_string_equal(text_str(&h.faults.lines), "");
    assert_non_null(strstr(text_str(&h.rows), "name=north \"A\", left, sump_volume_l=302.83294272"));
    assert_non_null(strstr(text_str(&h.rows), "note= blanks at both ends , retired="));
    heard_free(&h);
    text_free(&out);
}

static void no_mutilated_file_is_read_in_silence_or_crashes(void **state)
{
    (void)state;
    static const char whole[] = "name,system,shape,length_in,water_cm,fish,hold_until,note\r\n"
                                "A,north,box,48,40.5,yes,2026-11-25,\"a, \"\"b\"\"\"\r\n"
                                "\"Grün\",south,bow front,36,38,no,,\"x\ny\"\r\n";
    static const char spice[] = "\",\n\r;\xC3\x00\xFF 1-=";
    uint32_t x = 20261125;
    for (int i = 0; i < TRIALS_LEAST(6000, 2000); i++) {
        char bytes[sizeof whole];
        size_t len = sizeof whole - 1;
        memcpy(bytes, whole, sizeof whole);
        for (uint32_t n = next_random(&x) % 5 + 1; n > 0; n--)
            bytes[next_random(&x) % len] =
                next_random(&x) % 2 ? (char)next_random(&x) : spice[next_random(&x) % (sizeof spice - 1)];
        if (next_random(&x) % 4 == 0)
            len = next_random(&x) % len;
        struct heard h = {0};
        hear_bytes(&h, "tank.csv", bytes, len);
        assert_true(h.ok);
        assert_true(h.n_put <= h.n_rows);
        assert_true(h.faults.n > 0 || h.n_put == h.n_rows);
        assert_true(utf8_valid(text_str(&h.faults.lines), h.faults.lines.len, NULL));
        heard_free(&h);
    }
}

SUITE(exchange_csv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(columns_may_stand_in_any_order_and_lack_what_is_not_the_key),
        cmocka_unit_test(a_byte_order_mark_crlf_cr_and_blank_lines_are_no_fault),
        cmocka_unit_test(quotes_hold_commas_quotes_and_blanks),
        cmocka_unit_test(a_heading_line_alone_is_a_file_without_rows),
        cmocka_unit_test(spreadsheets_are_read_as_they_are_and_it_is_said),
        cmocka_unit_test(utf_16_is_read_with_and_without_its_mark),
        cmocka_unit_test(a_form_that_is_given_is_taken),
        cmocka_unit_test(every_fault_has_its_place_and_says_what_is_expected),
        cmocka_unit_test(text_that_looks_like_a_formula_is_marked_and_comes_back),
        cmocka_unit_test(a_test_is_read_in_the_unit_beside_it),
        cmocka_unit_test(a_unit_that_cannot_be_is_refused_with_its_place),
        cmocka_unit_test(a_nul_byte_is_refused_with_its_place),
        cmocka_unit_test(all_faults_come_in_one_pass_and_good_rows_still_go_on),
        cmocka_unit_test(a_heading_with_another_unit_is_converted_exactly),
        cmocka_unit_test(limits_hold_for_the_converted_value),
        cmocka_unit_test(a_rate_and_a_concentration_have_no_other_unit),
        cmocka_unit_test(plain_utf_8_is_never_held_whole),
        cmocka_unit_test(a_file_that_cannot_be_fetched_ends_with_the_reason),
        cmocka_unit_test(every_unit_ending_serves_a_field),
        cmocka_unit_test(a_long_cell_is_cut_off_before_it_grows),
        cmocka_unit_test(a_thousand_columns_are_refused_without_a_crash),
        cmocka_unit_test(broken_headings_are_no_rows),
        cmocka_unit_test(faults_are_all_counted_but_not_all_shown),
        cmocka_unit_test(what_the_sink_refuses_gets_the_place_of_the_blamed_cell),
        cmocka_unit_test(an_error_of_the_store_ends_the_reading),
        cmocka_unit_test(a_file_name_stands_for_a_register_in_the_singular_or_plural),
        cmocka_unit_test(the_register_may_be_told_where_the_name_does_not),
        cmocka_unit_test(what_is_written_reads_back_and_writes_the_same_bytes),
        cmocka_unit_test(no_mutilated_file_is_read_in_silence_or_crashes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
