"use strict";
// Draws the pictures of a page from the JSON beside them. Colours come from the page, so that they follow its theme;
// lines and hatching differ as well, so that nothing is told by colour alone.
(() => {
    const colour_of = (name) => {
        const probe = document.createElement("span");
        probe.className = `colour-${name}`;
        document.body.append(probe);
        const colour = getComputedStyle(probe).color;
        probe.remove();
        return colour;
    };

    const hatching = (angle, gap) => ({
        symbol: "rect",
        color: colour_of("chart-hatch"),
        dashArrayX: [1, 0],
        dashArrayY: [1, gap],
        rotation: angle,
    });

    const frame = (labels, unit) => ({
        animation: false,
        textStyle: { fontFamily: getComputedStyle(document.body).fontFamily, fontSize: 13 },
        grid: { left: 8, right: 16, top: 44, bottom: 8, containLabel: true },
        legend: { top: 0, left: 0, textStyle: { color: colour_of("chart-text"), fontSize: 13 }, itemWidth: 26 },
        // Rich text is drawn as SVG: the page's content security policy refuses the HTML of the usual tooltip.
        tooltip: { trigger: "axis", renderMode: "richText", confine: true },
        xAxis: {
            type: "category",
            data: labels,
            axisLine: { lineStyle: { color: colour_of("chart-axis") } },
            axisLabel: { color: colour_of("chart-text"), hideOverlap: true },
        },
        yAxis: {
            type: "value",
            name: unit,
            minInterval: 1,
            nameTextStyle: { color: colour_of("chart-text"), align: "left" },
            axisLabel: { color: colour_of("chart-text") },
            splitLine: { lineStyle: { color: colour_of("chart-grid") } },
        },
    });

    const line = (name, values, type, width, shade) => ({
        name,
        type: "line",
        data: values,
        step: "middle",
        symbol: "none",
        lineStyle: { type, width, color: shade },
        itemStyle: { color: shade },
    });

    // A band is an unseen lower edge with the height of the band stacked on it; "all" lets the edge be negative.
    const band = (name, low, high, opacity, decal) => [
        {
            type: "line",
            data: low,
            stack: name,
            stackStrategy: "all",
            step: "middle",
            symbol: "none",
            silent: true,
            lineStyle: { opacity: 0 },
            tooltip: { show: false },
        },
        {
            name,
            type: "line",
            data: high.map((top, index) => top - low[index]),
            stack: name,
            stackStrategy: "all",
            step: "middle",
            symbol: "none",
            silent: true,
            lineStyle: { opacity: 0 },
            itemStyle: { color: colour_of("chart-band"), decal },
            areaStyle: { color: colour_of("chart-band"), opacity },
            tooltip: { show: false },
        },
    ];

    const legend_of = (names) => [
        { name: names.outer, icon: "rect" },
        { name: names.inner, icon: "rect" },
        { name: names.middle },
        { name: names.supply, icon: "rect" },
    ];

    // On a phone the legend takes a row for each name.
    const fan = (data, width) => ({
        ...frame(data.labels, data.unit),
        legend: { ...frame(data.labels, data.unit).legend, data: legend_of(data.names) },
        grid: { ...frame(data.labels, data.unit).grid, top: width < 620 ? 132 : 72 },
        // Above the label of the line that ends the list.
        yAxis: { ...frame(data.labels, data.unit).yAxis, nameGap: 24 },
        series: [
            ...band(data.names.outer, data.low_outer, data.high_outer, 0.35, hatching(Math.PI / 4, 7)),
            ...band(data.names.inner, data.low_inner, data.high_inner, 0.6, hatching(-Math.PI / 4, 5)),
            { name: data.names.supply, type: "bar", data: data.supply, barMaxWidth: 14, itemStyle: { color: colour_of("chart-axis") } },
            line(data.names.middle, data.middle, "solid", 3, colour_of("chart-line")),
            {
                ...line("", [], "dashed", 1, colour_of("chart-line")),
                markLine: {
                    silent: true,
                    symbol: "none",
                    label: {
                        // On a phone it would lie on the curves; the words above the picture say it too.
                        show: width >= 620 && Math.min(...data.low_outer) < 0,
                        formatter: data.names.empty,
                        position: "insideStartBottom",
                        color: colour_of("chart-text"),
                    },
                    lineStyle: { type: "dashed", width: 2, color: colour_of("chart-axis") },
                    data: [
                        { yAxis: 0 },
                        ...(data.list_end < data.labels.length - 1
                            ? [
                                  {
                                      xAxis: data.list_end,
                                      label: {
                                          show: true,
                                          formatter: data.names.list_end,
                                          // Above the picture, so that it crosses nothing.
                                          position: "end",
                                          color: colour_of("chart-text"),
                                      },
                                      lineStyle: { type: "dotted", width: 2, color: colour_of("chart-axis") },
                                  },
                              ]
                            : []),
                    ],
                },
            },
        ],
    });

    const bars = (data) => ({
        ...frame(data.labels, data.unit),
        legend: { show: false },
        grid: { left: 8, right: 16, top: 30, bottom: 8, containLabel: true },
        series: [
            {
                name: data.names.bar,
                type: "bar",
                data: data.values,
                itemStyle: { color: colour_of("chart-bar") },
            },
        ],
    });

    // One line a class: told apart by its stroke and its mark, not by colour.
    const strokes = ["solid", "dashed", "dotted", [12, 4, 2, 4], [2, 6]];
    const marks = ["circle", "rect", "triangle", "diamond", "pin"];

    const lines = (data, limits) => {
        const plain = frame([], data.names.y);
        const scale = { ...plain.yAxis, minInterval: 0, ...limits };
        return {
            ...plain,
            grid: { ...plain.grid, top: 74, bottom: 28 },
            tooltip: { trigger: "item", renderMode: "richText", confine: true },
            xAxis: { ...scale, name: data.names.x, nameLocation: "middle", nameGap: 26 },
            yAxis: scale,
            series: data.lines.map((one, number) => ({
                ...line(one.name, one.points, strokes[number % strokes.length], 2, colour_of("chart-line")),
                step: false,
                symbol: marks[number % marks.length],
                symbolSize: 9,
            })),
        };
    };

    const calibration = (data) => {
        const drawn = lines(data, { min: 40, max: 100 });
        const honest = line(data.names.honest, [[40, 40], [100, 100]], "solid", 1, colour_of("chart-axis"));
        return { ...drawn, series: [{ ...honest, step: false }, ...drawn.series] };
    };

    // The exchange of stock against promise, and what was measured between its limits.
    const scaled = (data) => lines(data, { scale: true });

    const draw = { fan, bars, calibration, exchange: scaled, control: scaled };
    for (const box of document.querySelectorAll("[data-chart]")) {
        const data = JSON.parse(document.getElementById(box.dataset.from).textContent);
        const chart = echarts.init(box, null, { renderer: "svg" });
        const show = () => chart.setOption(draw[box.dataset.chart](data, box.clientWidth), true);
        show();
        new ResizeObserver(() => {
            chart.resize();
            show();
        }).observe(box);
        matchMedia("(prefers-color-scheme: dark)").addEventListener("change", show);
        new MutationObserver(show).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    }
})();
