// What passes between a dragged slider and the charts: its moves to the server, and figures to charts that are on
// the page already. Nothing else of the page is touched meanwhile.

export default function (component) {
  const { data, setTriggerValue } = component;
  const following = (window.headroomFollowing ??= { charts: new Map(), groups: new Map() });
  following.send = (group, moves) => setTriggerValue("moved", { group, moves });
  const text = new TextDecoder().decode(data).split("\n");
  for (const [key, serial] of Object.entries(JSON.parse(text[0]))) following.groups.get(key)?.(serial);
  for (let line = 1; line + 1 < text.length; line += 2) {
    following.charts.get(JSON.parse(text[line]).key)?.show(`${text[line]}\n${text[line + 1]}`);
  }
  if (text.length === 1) for (const chart of following.charts.values()) chart.settle();
  return () => { delete following.send; };
}
