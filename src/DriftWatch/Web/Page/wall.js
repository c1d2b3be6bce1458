// Which screen is looked at from across the room: one of 2400 CSS pixels and more, or any that says so in its address by ?wall,
// as a screen whose system enlarges everything must.

const wide = matchMedia('(min-width: 2400px)');

export const isAsked = () => new URLSearchParams(location.search).has('wall');

function mark() {
  if (wide.matches || isAsked()) document.documentElement.dataset.wall = '';
  else delete document.documentElement.dataset.wall;
  dispatchEvent(new Event('resize')); // what is drawn on canvases goes by the size of letters
}

wide.addEventListener('change', mark);
mark();
